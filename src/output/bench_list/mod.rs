//! The bench list: what to mark, split and saw, a few lines a tube, about ten tubes a page, read at arm's length and ticked off.
//!
//! Two columns of tubes in the order of the work. A tube takes one block: its name, the place of the split round the index
//! end, the end as it is seen when the chisel is placed, and a row with a box to tick for each run. A block that is taller
//! than its column goes on in the next. Every page carries the same legend and caution, so that no page needs another.
//!
//! Words are 8.5 pt or more, figures 10 pt or more (1 pt = 25.4 / 72 mm).

mod block;
mod legend;
mod page;
mod spec;

use crate::paper::scene::Scene;
use block::Block;
use page::Pages;

pub use legend::marking;
pub use spec::{AsGoodMark, BenchPiece, BenchRun, BenchSheet, BenchTube, Entry, SURENESS, SplitMark, sureness};

/// The pages of the list; one page that says so where there is nothing on it.
#[must_use]
pub fn pages(entries: &[Entry], sheet: &BenchSheet) -> Vec<Scene> {
    let mut pages = Pages::new(entries, sheet);
    if !entries.iter().any(|e| matches!(e, Entry::Tube(_))) {
        pages.heading("No tube of this lot is to be split", 0.0);
    }
    for (i, entry) in entries.iter().enumerate() {
        match entry {
            Entry::Heading(words) => {
                if entries[i + 1..].iter().all(|e| matches!(e, Entry::Left { .. })) {
                    pages.back_for_the_rest(&entries[i..]);
                }
                let next = entries.get(i + 1).map_or(0.0, |e| least_mm(e, sheet, &pages));
                pages.heading(words, next);
            }
            Entry::Left { tube, why } => pages.left(tube, why),
            Entry::Tube(tube) => block(&mut pages, tube, sheet),
        }
    }
    pages.finish()
}

/// Height that the beginning of an entry needs, mm.
fn least_mm(entry: &Entry, sheet: &BenchSheet, pages: &Pages<'_>) -> f64 {
    match entry {
        Entry::Tube(tube) => {
            let block = Block::new(tube, sheet, pages.columns(), pages.column_mm());
            block.height_mm(0..block.rows().min(8))
        }
        Entry::Left { tube, why } => pages.left_mm(tube, why),
        Entry::Heading(_) => page::HEADING_MM,
    }
}

fn block(pages: &mut Pages<'_>, tube: &BenchTube, sheet: &BenchSheet) {
    let block = Block::new(tube, sheet, pages.columns(), pages.column_mm());
    let mut from = 0;
    loop {
        let left = from..block.rows();
        if block.height_mm(left.clone()) > pages.room_mm() && !pages.at_top() {
            // a tall one goes on in the next column, if a fair part of it fits here; others begin there
            let tall = block.height_mm(left.clone()) > pages.full_mm();
            if !tall || block.fitting(from, pages.room_mm()) < 8 {
                pages.next_column();
            }
        }
        let fit = block.fitting(from, pages.room_mm()).clamp(1, left.len().max(1));
        let part = from..(from + fit).min(block.rows());
        let height = block.height_mm(part.clone());
        let (scene, at) = pages.take(height);
        block.draw(scene, at, part.clone());
        from = part.end;
        if from >= block.rows() {
            break;
        }
    }
}

#[cfg(test)]
mod tests;
