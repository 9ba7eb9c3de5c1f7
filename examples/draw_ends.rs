//! Draws a page of twelve sawn ends beside a scale card, as a scanner would see it: something to try `ends` on.
//!
//! `cargo run --release --example draw_ends -- OUT.png [DPI]`. Every size in it is known (`tests/support/glass.rs`); the third,
//! sixth, ninth and twelfth ring are far ends. The scanner stretches by 0.3 % down the page, and its file does not know it.

#[path = "../tests/support/glass.rs"]
mod glass;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut args = std::env::args().skip(1);
    let path = args.next().ok_or("give a file to write")?;
    let dpi: f64 = args.next().map_or(Ok(600.0), |d| d.parse())?;
    let page = glass::twelve([dpi, 1.003 * dpi]);
    std::fs::write(path, glass::png(&page.draw(), page.pixels(), Some([dpi; 2])))?;
    Ok(())
}
