//! A plan that is stored reads back as it was, and every error of a run names its cause.

#[path = "../examples/plan_a_folder.rs"]
mod plan_a_folder;

use quarterlight::decide::plan::{NoPlan, PlanOptions};
use quarterlight::domain::{Angle, Kind, Lot, Reading, Tube};
use quarterlight::lot::{Assessed, FORMAT, LotError, Options, Prepared, RecordError, ScaleSource, ScalesUsed, assess};
use quarterlight::tube::{BeliefError, Population, Widened};
use serde_json::Value;
use std::error::Error;
use std::path::{Path, PathBuf};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data-samples").join(name)
}

fn assessed(lot: &str, draws: u64) -> Assessed {
    let options = Options { plan: PlanOptions { seed: 3, draws }, ..Options::default() };
    assess(&sample(lot), &options, &|_| ()).unwrap_or_else(|e| panic!("{lot}: {e}"))
}

/// Every sample lot, those with faults in their files too.
const SAMPLES: [&str; 7] = ["demo", "grid", "bars", "inches", "scan", "broken", "lone-readings.csv"];

#[test]
fn every_sample_lot_reads_back_equal_and_is_stored_as_the_same_text_again() {
    for lot in SAMPLES {
        let plan = assessed(lot, 40);
        let text = plan.to_json();
        let back = Assessed::from_json(&text).unwrap_or_else(|e| panic!("{lot}: {e}"));
        assert!(back == plan, "{lot} differs");
        assert!(back.to_json() == text, "{lot}: other text");
        assert!(!plan.outcomes.is_empty(), "{lot}");
    }
}

#[test]
fn the_scales_in_use_stand_in_the_record_and_older_records_without_them_still_read() {
    let plan = assessed("grid", 20);
    assert!(plan.scales.tubes >= 1 && plan.scales.tubes <= plan.scales.of_tubes, "{:?}", plan.scales);
    let value: Value = serde_json::from_str(&plan.to_json()).expect("JSON");
    let told = value["scales"]["scales"].as_array().expect("a list");
    assert!(told.len() == plan.scales.scales.len() && told.len() > 20);
    for s in told {
        let [value, low, high] = ["value", "low", "high"].map(|k| s[k].as_f64().expect("a number"));
        assert!(0.0 < low && low <= value && value <= high, "{s}");
        assert!(["lot", "built-in"].contains(&s["source"].as_str().expect("a word")), "{s}");
    }
    let mut old = value.clone();
    old.as_object_mut().expect("a record").remove("scales");
    let back = Assessed::from_json(&old.to_string()).expect("still a plan");
    assert_eq!(back, Assessed { scales: ScalesUsed::default(), ..plan });
}

#[test]
fn a_fixed_scale_is_told_as_such_and_a_widened_doubt_reads_back() {
    let around = |z: f64| (0..6).map(move |i| (z, 30.0 * f64::from(i)));
    let readings = [30.0, 90.0, 150.0].into_iter().flat_map(around);
    let readings = readings.map(|(z, deg)| Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4)).collect();
    let tube = Tube { name: "R".into(), length_mm: 180.0, readings, ..Tube::default() };
    let mut lot = Lot { name: "made".into(), tubes: vec![tube], ..Lot::default() };
    lot.population.insert("lobe3_level".into(), 0.08);
    let mut plan = Prepared::of_lot(lot).assess(PlanOptions { seed: 1, draws: 20 }, &|_| ()).expect("a population");
    let fixed = plan.scales.scale("lobe3_level").expect("in use");
    assert_eq!((fixed.source, fixed.value, fixed.low, fixed.high), (ScaleSource::LotToml, 0.08, 0.08, 0.08));
    // a caliper sees no bow
    assert_eq!(plan.scales.scale("centre_bend").expect("in use").source, ScaleSource::BuiltIn);
    let one = plan.outcomes[0].plan.as_mut().expect("measured");
    assert_eq!(one.fit.widened, None);
    one.fit.widened = Some(Widened { times: 2.9, doubted_before: 31 });
    let text = plan.to_json();
    assert!(text.contains("\"doubted_before\": 31"), "{text}");
    assert_eq!(Assessed::from_json(&text).expect("just stored"), plan);
}

/// The smallest change is a change: else the test above would prove nothing.
#[test]
fn a_last_digit_or_a_draw_changed_in_the_record_makes_another_value() {
    let plan = assessed("grid", 20);
    let mut value: Value = serde_json::from_str(&plan.to_json()).expect("JSON");
    let chance = &mut value["tubes"][0]["geometry"]["diameter_mm"]["value"];
    let bits = chance.as_f64().expect("seen").to_bits();
    *chance = Value::from(f64::from_bits(bits + 1));
    assert_ne!(Assessed::from_json(&value.to_string()).expect("still a plan"), plan);
    let mut value: Value = serde_json::from_str(&plan.to_json()).expect("JSON");
    let draw = &mut value["tubes"][0]["split"]["draws"][7];
    *draw = Value::from(draw.as_u64().expect("a count") + 1);
    assert_ne!(Assessed::from_json(&value.to_string()).expect("still a plan"), plan);
}

#[test]
fn the_counts_of_every_draw_add_up_to_the_forecast() {
    let plan = assessed("grid", 60);
    let value: Value = serde_json::from_str(&plan.to_json()).expect("JSON");
    let tubes = value["tubes"].as_array().expect("tubes");
    let mut totals = vec![0.0; 60];
    for t in tubes {
        let draws = t["split"]["draws"].as_array().expect("counts");
        assert_eq!(draws.len(), 60);
        for (total, n) in totals.iter_mut().zip(draws) {
            *total += n.as_f64().expect("a count");
        }
    }
    let low = quarterlight::numeric::summary::quantile(&totals, 0.05);
    assert!((value["forecast"]["low"].as_f64().expect("a number") - low).abs() < 1e-12, "{low}");
}

#[test]
fn tubes_without_a_plan_keep_their_place_their_weight_and_their_reason() {
    let plan = assessed("demo", 20);
    let at = plan.outcomes.iter().position(|o| o.plan.is_err()).expect("T24 was not measured");
    let bare = &plan.outcomes[at];
    assert_eq!((bare.tube.as_str(), &bare.plan), ("T24", &Err(NoPlan::NotMeasured)));
    assert!(bare.weight_g.is_some_and(|w| w > 0.0) && bare.length_mm > 0.0, "{bare:?}");
    let value: Value = serde_json::from_str(&plan.to_json()).expect("JSON");
    let told = &value["not_planned"][0];
    assert_eq!((told["place"].as_u64(), told["why"].as_str()), (Some(at as u64 + 1), Some("not measured yet")));
}

#[test]
fn a_failed_fit_keeps_its_cause_through_the_record() {
    let mut bad = Reading::new(Kind::Vee, 50.0, Angle::ZERO, 0.1);
    bad.vee_deg = None;
    let tube = |name: &str, length_mm: f64, reading: Reading| Tube {
        name: name.into(),
        length_mm,
        readings: vec![reading],
        ..Tube::default()
    };
    let good = Reading::new(Kind::Diameter, 50.0, Angle::ZERO, 25.4);
    let short = tube("S", 60.0, good.clone());
    let tubes = vec![tube("V", 180.0, bad), short, tube("Z", 0.0, good)];
    let lot = Prepared::of_lot(Lot { name: "made".into(), tubes, ..Lot::default() });
    let plan = lot.assess(PlanOptions { seed: 1, draws: 20 }, &|_| ()).expect("a population");
    let Err(why @ NoPlan::Failed(BeliefError::Lacks { .. })) = &plan.outcomes[0].plan else {
        panic!("{:?}", plan.outcomes[0].plan)
    };
    assert!(why.source().is_some_and(|s| s.to_string().starts_with("tube V: ")), "{why}");
    assert!(plan.outcomes[1].plan.as_ref().is_ok_and(|p| p.split.is_none()), "too short");
    let back = Assessed::from_json(&plan.to_json()).expect("just stored");
    assert_eq!(back, plan);
    assert!(matches!(&back.outcomes[2].plan, Err(NoPlan::Failed(BeliefError::Length { .. }))));
}

#[test]
fn what_is_no_plan_or_of_another_format_is_refused_with_the_reason() {
    assert!(matches!(Assessed::from_json("[]"), Err(RecordError::Unreadable(_))));
    assert!(matches!(Assessed::from_json(""), Err(RecordError::Unreadable(_))));
    let text = assessed("grid", 20).to_json();
    let newer = text.replacen("\"format\": 1", "\"format\": 2", 1);
    assert!(matches!(Assessed::from_json(&newer), Err(RecordError::Format { found: 2, known: FORMAT })));
    let cut = &text[..text.len() / 2];
    assert!(matches!(Assessed::from_json(cut), Err(RecordError::Unreadable(_))));
    let wrong = text.replacen("\"verdict\": \"split\"", "\"verdict\": \"perhaps\"", 1);
    assert!(wrong != text && Assessed::from_json(&wrong).is_err());
    let mut value: Value = serde_json::from_str(&assessed("demo", 20).to_json()).expect("JSON");
    value["not_planned"][0]["place"] = Value::from(99);
    assert!(matches!(Assessed::from_json(&value.to_string()), Err(RecordError::Places)));
}

#[test]
fn errors_of_a_run_are_errors_that_name_their_cause() {
    let none = assess(&sample("no-such-lot"), &Options::default(), &|_| ()).expect_err("nothing there");
    assert!(matches!(none, LotError::Read(_)) && none.to_string().contains("there is no file or folder"));
    let mut lot = Lot::default();
    lot.population.insert("lobe1_level".into(), 0.1);
    let error: Box<dyn Error> =
        Prepared::of_lot(lot).fit(PlanOptions::default(), &|_| ()).expect_err("no such scale").into();
    assert_eq!(error.to_string(), "lot.toml, [population]: lobe1_level cannot be used");
    let question = || -> Result<Population, Box<dyn Error>> { Ok(Population::with(&[("x".into(), 1.0)].into())?) };
    assert!(question().is_err());
}

#[test]
fn the_program_of_a_stranger_reads_plans_stores_and_reads_back() {
    let dir = tempfile::tempdir().expect("folder");
    let said = plan_a_folder::plan_a_folder(&sample("grid"), &dir.path().join("plan.json")).expect("a plan");
    assert!(said.contains("blanks per kg") && said.ends_with("read back, it says the same\n"), "{said}");
    let none = plan_a_folder::plan_a_folder(&sample("no-such-lot"), &dir.path().join("plan.json"));
    assert!(none.expect_err("nothing there").to_string().contains("there is no file or folder"));
}
