//! Writes the pictures under figures/ anew, from the invented lot of the demo.
//!
//! Run from the crate's folder: `cargo run --release --example make_figures`. The same bytes come out every time; a test
//! repeats it.

use quarterlight::decide::plan::{PlanOptions, TubePlan};
use quarterlight::decide::screen::Screened;
use quarterlight::lot::{BatchRules, Prepared};
use quarterlight::output::figures::{Source, bark_map, centreline, limits, lot_board, piles, score, section};
use quarterlight::output::show::Units;
use quarterlight::paper::scene::{DrawError, Scene};
use quarterlight::paper::{scene, strip, svg};
use std::path::Path;

/// The tube that is shown: a bow, a doubted reading and two pieces that are worth little.
const TUBE: &str = "T02";
/// The tube whose marks are shown.
const MARKED: &str = "T08";

#[allow(dead_code, reason = "the test that repeats this includes the file and calls `figures` itself")]
fn main() -> Result<(), Box<dyn std::error::Error>> {
    std::fs::create_dir_all("figures")?;
    for (name, text) in figures(Path::new("data-samples/demo"))? {
        std::fs::write(Path::new("figures").join(&name), text)?;
    }
    Ok(())
}

/// Names and contents of all pictures.
///
/// # Errors
/// When the lot cannot be read or a picture cannot be drawn.
pub fn figures(lot: &Path) -> Result<Vec<(String, String)>, Box<dyn std::error::Error>> {
    let prepared = Prepared::read(lot, &[])?;
    let options = PlanOptions { seed: 1, draws: 100 };
    let (assessed, views) = prepared.assess_with_views(options, &|_| ())?;
    let lot = &prepared.lot;
    let source = Source { lot: &lot.name, options, units: Units::Mm, in_card: false };
    let board: Vec<(&TubePlan, &Screened)> = assessed.plans().into_iter().map(|p| (p, &p.screen)).collect();
    let mut scenes: Vec<(String, Scene)> = Vec::new();
    for (i, s) in lot_board::draw(&board, lot.screen.least_blanks, &source)?.into_iter().enumerate() {
        scenes.push((if i == 0 { "lot-board".into() } else { format!("lot-board-{}", i + 1) }, s));
    }
    scenes.extend(limits::draw(&assessed.forecast, &source)?.map(|s| ("limits".into(), s)));
    let batches = assessed.batches(&BatchRules::default())?;
    scenes.extend(piles::draw(&batches, &source)?.into_iter().take(1).map(|s| ("piles".into(), s)));
    for ((tube, outcome), view) in lot.tubes.iter().zip(&assessed.outcomes).zip(&views) {
        let (Ok(plan), Some(view)) = (&outcome.plan, view) else { continue };
        let map = || bark_map::draw(plan, view, &tube.marks, &lot.target, &source);
        if tube.name == MARKED {
            scenes.push(("bark-map-marks".into(), map()));
        }
        if tube.name != TUBE {
            continue;
        }
        scenes.push(("bark-map".into(), map()));
        scenes.push(("section".into(), section::draw(plan, view, &lot.target, &source)));
        scenes.push(("centreline".into(), centreline::draw(plan, view, &source)?));
        if let Some(s) = &plan.split {
            scenes.push(("score".into(), score::draw((&tube.name, plan.fit.readings), s, &source)?));
        }
        if let Some(spec) = quarterlight::output::report::strip_spec(plan, view, &tube.marks) {
            let sheet = strip::StripSheet {
                paper: scene::Paper::A4,
                heading: format!("Lot {}, seed {}", lot.name, options.seed),
                foot: quarterlight::output::cautions::IN_ONE_LINE.to_string(),
                ..strip::StripSheet::default()
            };
            scenes.extend(strip::pages(&[spec], &sheet)?.into_iter().take(1).map(|s| ("strips".into(), s)));
        }
    }
    let write = |(name, s): (String, Scene)| -> Result<(String, String), DrawError> {
        Ok((format!("{name}.svg"), svg::write(&s, &name)?))
    };
    Ok(scenes.into_iter().map(write).collect::<Result<_, _>>()?)
}
