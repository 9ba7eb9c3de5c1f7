//! The figures of tubes as they are stored: what is believed, and what was measured directly, station by station.

use super::json::FORMAT;
use super::json::pretty;
use super::outcome::FitOutcome;
use super::scales::ScalesUsed;
use crate::decide::plan::PlanOptions;
use crate::domain::{Finding, Lot};
use crate::tube::direct::{
    AboutCircle, BarLine, DirectFigures, EllipseAt, LineStraightness, Roundness, StationFit, Straightness,
    direct_figures,
};
use crate::tube::{FittedTube, Measured};
use serde::Serialize;

#[derive(Serialize)]
struct Record<'a> {
    format: u64,
    #[serde(flatten)]
    options: PlanOptions,
    lot: Name<'a>,
    scales: &'a ScalesUsed,
    tubes: Vec<Fitted<'a>>,
    not_fitted: Vec<NotFitted<'a>>,
    findings: &'a [Finding],
}

#[derive(Serialize)]
struct Name<'a> {
    name: &'a str,
}

#[derive(Serialize)]
struct Fitted<'a> {
    #[serde(flatten)]
    fit: &'a FittedTube,
    direct: Direct<'a>,
}

#[derive(Serialize)]
struct NotFitted<'a> {
    tube: &'a str,
    why: String,
}

#[derive(Serialize)]
struct Direct<'a> {
    stations: Vec<Station<'a>>,
    bow_mm: Option<Measured>,
    bow_deg: Option<f64>,
    bow_radius_mm: Option<f64>,
    s_bend_mm: Option<f64>,
    taper_mm_per_100mm: Option<Measured>,
    least_wall_mm: Option<f64>,
    straightness: Straight<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    bars: Vec<Bar>,
}

#[derive(Serialize)]
struct Bar {
    angle_deg: f64,
    span_mm: f64,
    readings: usize,
    sag_mm: Measured,
    at_mm: f64,
    radius_mm: Option<f64>,
}

#[derive(Serialize)]
struct Station<'a> {
    kind: &'a str,
    z_mm: f64,
    readings: usize,
    circle: Option<Circle>,
    centre_x_mm: Option<Measured>,
    centre_y_mm: Option<Measured>,
    diameter_mm: Option<Measured>,
    ovality_mm: Option<f64>,
    ovality_percent_of_mean: Option<f64>,
    ovality_percent_of_largest: Option<f64>,
    ovality_deg: Option<f64>,
    lobes: Vec<Lobe>,
    reference_circles: Option<Circles>,
    ellipse: Option<Ellipse>,
}

#[derive(Serialize)]
struct Circle {
    x_mm: Measured,
    y_mm: Measured,
    radius_mm: Measured,
    rms_mm: f64,
}

#[derive(Serialize)]
struct Lobe {
    n: usize,
    amplitude_mm: f64,
}

#[derive(Serialize)]
struct Circles {
    least_squares: About,
    minimum_zone: Option<About>,
    minimum_circumscribed: Option<About>,
    maximum_inscribed: Option<About>,
    deviation_sd_mm: f64,
    pointed_foot_mm: f64,
}

#[derive(Serialize)]
struct About {
    x_mm: f64,
    y_mm: f64,
    radius_mm: Option<f64>,
    deviation_mm: f64,
}

#[derive(Serialize)]
struct Ellipse {
    x_mm: Measured,
    y_mm: Measured,
    semi_major_mm: Measured,
    semi_minor_mm: Measured,
    direction_deg: Option<Measured>,
    rms_mm: f64,
}

#[derive(Serialize)]
struct Straight<'a> {
    centreline_mm: Option<Measured>,
    centreline_stations: Option<usize>,
    bark_lines: Vec<BarkLine<'a>>,
}

#[derive(Serialize)]
struct BarkLine<'a> {
    kind: &'a str,
    set: &'a str,
    angle_deg: f64,
    stations: usize,
    from_mm: f64,
    to_mm: f64,
    deviation_mm: Measured,
}

/// The record of a lot's fits.
pub(super) fn fit_json(
    fits: &[FitOutcome],
    options: PlanOptions,
    scales: &ScalesUsed,
    lot: &Lot,
    findings: &[Finding],
) -> String {
    let direct: Vec<DirectFigures> = lot.tubes.iter().map(|t| direct_figures(t, &lot.rigs)).collect();
    let tubes =
        fits.iter().zip(&direct).filter_map(|(f, d)| Some(Fitted { fit: f.fit.as_ref().ok()?, direct: d.into() }));
    let why = |f: &FitOutcome| f.fit.as_ref().err().map(ToString::to_string);
    let not_fitted = fits.iter().filter_map(|f| Some(NotFitted { tube: &f.tube, why: why(f)? }));
    pretty(&Record {
        format: FORMAT,
        options,
        lot: Name { name: &lot.name },
        scales,
        tubes: tubes.collect(),
        not_fitted: not_fitted.collect(),
        findings,
    })
}

impl<'a> From<&'a DirectFigures> for Direct<'a> {
    fn from(d: &'a DirectFigures) -> Direct<'a> {
        Direct {
            stations: d.stations.iter().map(Station::from).collect(),
            bow_mm: d.bow_mm,
            bow_deg: d.bow_deg,
            bow_radius_mm: d.bow_radius_mm,
            s_bend_mm: d.s_bend_mm,
            taper_mm_per_100mm: d.taper_mm_per_100mm,
            least_wall_mm: d.least_wall.map(|w| w.0),
            straightness: Straight::from(&d.straightness),
            bars: d.bars.iter().map(Bar::from).collect(),
        }
    }
}

impl From<&BarLine> for Bar {
    fn from(b: &BarLine) -> Bar {
        let BarLine { angle_deg, span_mm, readings, sag_mm, at_mm } = *b;
        Bar { angle_deg, span_mm, readings, sag_mm, at_mm, radius_mm: b.radius_mm() }
    }
}

impl<'a> From<&'a StationFit> for Station<'a> {
    fn from(s: &'a StationFit) -> Station<'a> {
        // a dial knows no size, so its shares would be of a diameter it never read
        let sized = s.ovality.filter(|_| s.knows_size());
        Station {
            kind: s.word(),
            z_mm: s.z_mm,
            readings: s.readings,
            circle: s.circle.map(|c| Circle { x_mm: c.x, y_mm: c.y, radius_mm: c.r, rms_mm: c.rms }),
            centre_x_mm: s.centre.map(|c| c[0]),
            centre_y_mm: s.centre.map(|c| c[1]),
            diameter_mm: s.diameter_mm,
            ovality_mm: s.ovality.map(|o| o.difference()),
            ovality_percent_of_mean: sized.map(|o| o.percent_of_mean()),
            ovality_percent_of_largest: sized.map(|o| o.percent_of_largest()),
            ovality_deg: s.ovality_deg,
            lobes: s.lobes.iter().map(|&(n, amplitude_mm)| Lobe { n, amplitude_mm }).collect(),
            reference_circles: s.roundness.as_ref().map(Circles::from),
            ellipse: s.ellipse.as_ref().map(Ellipse::from),
        }
    }
}

impl From<&Roundness> for Circles {
    fn from(r: &Roundness) -> Circles {
        Circles {
            least_squares: r.least_squares.into(),
            minimum_zone: r.minimum_zone.map(About::from),
            minimum_circumscribed: r.minimum_circumscribed.map(About::from),
            maximum_inscribed: r.maximum_inscribed.map(About::from),
            deviation_sd_mm: r.deviation_sd_mm,
            pointed_foot_mm: r.pointed_foot_mm,
        }
    }
}

impl From<AboutCircle> for About {
    fn from(c: AboutCircle) -> About {
        let [x_mm, y_mm] = c.centre_mm;
        About { x_mm, y_mm, radius_mm: c.radius_mm, deviation_mm: c.deviation_mm }
    }
}

impl From<&EllipseAt> for Ellipse {
    fn from(e: &EllipseAt) -> Ellipse {
        let [x_mm, y_mm] = e.centre_mm;
        Ellipse {
            x_mm,
            y_mm,
            semi_major_mm: e.semi_major_mm,
            semi_minor_mm: e.semi_minor_mm,
            direction_deg: e.direction_deg,
            rms_mm: e.rms_mm,
        }
    }
}

impl<'a> From<&'a Straightness> for Straight<'a> {
    fn from(s: &'a Straightness) -> Straight<'a> {
        let line = |l: &'a LineStraightness| BarkLine {
            kind: l.word(),
            set: &l.set,
            angle_deg: l.angle_deg,
            stations: l.stations,
            from_mm: l.from_mm,
            to_mm: l.to_mm,
            deviation_mm: l.deviation_mm,
        };
        Straight {
            centreline_mm: s.centreline_mm,
            centreline_stations: s.centreline_mm.map(|_| s.centres),
            bark_lines: s.lines.iter().map(line).collect(),
        }
    }
}
