//! Measures a PDF from its own bytes: page sizes and straight strokes, in points.
//!
//! Knows just enough of ISO 32000-1: finds `/MediaBox`, inflates streams, follows the operators q, Q, cm, m, l
//! and S. Curves and text are passed over.

use std::io::Read;

/// A straight stroke, points from the lower left of the page.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    pub from: [f64; 2],
    pub to: [f64; 2],
}

impl Line {
    pub fn length(&self) -> f64 {
        (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1])
    }
    pub fn is_level(&self) -> bool {
        (self.to[1] - self.from[1]).abs() < 1e-3 && self.length() > 0.0
    }
    pub fn is_upright(&self) -> bool {
        (self.to[0] - self.from[0]).abs() < 1e-3 && self.length() > 0.0
    }
}

fn find(bytes: &[u8], what: &[u8], from: usize) -> Option<usize> {
    (from..bytes.len().saturating_sub(what.len() - 1)).find(|&i| bytes[i..].starts_with(what))
}

fn streams(bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(start) = find(bytes, b"stream", at) {
        let mut body = start + 6;
        while matches!(bytes.get(body), Some(b'\r' | b'\n')) {
            body += 1;
        }
        let Some(end) = find(bytes, b"endstream", body) else { break };
        let mut plain = Vec::new();
        if flate2::read::ZlibDecoder::new(&bytes[body..end]).read_to_end(&mut plain).is_ok() {
            found.push(plain);
        }
        at = end + 9;
    }
    found
}

/// Width and height of each page, points, in the order they stand in the file.
pub fn media_boxes(bytes: &[u8]) -> Vec<(f64, f64)> {
    let mut texts = vec![bytes.to_vec()];
    texts.extend(streams(bytes));
    let mut found = Vec::new();
    for text in texts {
        let mut at = 0;
        while let Some(start) = find(&text, b"/MediaBox", at) {
            let open = find(&text, b"[", start).unwrap();
            let close = find(&text, b"]", open).unwrap();
            let list = String::from_utf8(text[open + 1..close].to_vec()).unwrap();
            let n: Vec<f64> = list.split_whitespace().map(|v| v.parse().unwrap()).collect();
            found.push((n[2] - n[0], n[3] - n[1]));
            at = close;
        }
    }
    found
}

/// The straight strokes of each page content, in file order.
pub fn lines_of_each_page(bytes: &[u8]) -> Vec<Vec<Line>> {
    let contents = streams(bytes).into_iter().filter(|s| s.is_ascii() || s.starts_with(b"q\n"));
    contents.map(|s| strokes(&String::from_utf8_lossy(&s))).filter(|l| !l.is_empty()).collect()
}

type Matrix = [f64; 6];

fn times(a: Matrix, b: Matrix) -> Matrix {
    [
        a[0] * b[0] + a[1] * b[2],
        a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2],
        a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4],
        a[4] * b[1] + a[5] * b[3] + b[5],
    ]
}

fn strokes(content: &str) -> Vec<Line> {
    let mut matrix: Matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let (mut kept, mut numbers, mut path, mut lines) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let place = |m: Matrix, n: &[f64]| [n[0] * m[0] + n[1] * m[2] + m[4], n[0] * m[1] + n[1] * m[3] + m[5]];
    for word in content.split_whitespace() {
        if let Ok(n) = word.parse::<f64>() {
            numbers.push(n);
            continue;
        }
        let last = |n: usize| numbers.get(numbers.len().wrapping_sub(n)..).map(<[f64]>::to_vec);
        match word {
            "q" => kept.push(matrix),
            "Q" => matrix = kept.pop().unwrap_or(matrix),
            "cm" => {
                if let Some(n) = last(6) {
                    matrix = times([n[0], n[1], n[2], n[3], n[4], n[5]], matrix);
                }
            }
            "m" | "l" => {
                if let Some(n) = last(2) {
                    path.push((word == "m", place(matrix, &n)));
                }
            }
            "S" | "s" => {
                let pairs = path.windows(2).filter(|w| !w[1].0);
                lines.extend(pairs.map(|w| Line { from: w[0].1, to: w[1].1 }));
                path.clear();
            }
            "f" | "f*" | "n" | "B" | "B*" | "W" | "W*" => path.clear(),
            _ => {}
        }
        numbers.clear();
    }
    lines
}
