//! The list of tubes, and the pages of one tube.

use super::changes::typed_of;
use super::gate::cookie;
use super::held::{Bench, asked, html, onward, parts, refuse, work};
use super::known::{Known, Looked, Now};
use super::store::load;
use super::writes::{aim_text, backs_text, bare, lines_text, next_tube};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use maud::{Markup, html as markup};
use quarterlight::decide::advice::{Advice, AtHand};
use quarterlight::decide::packages::{BAR_SPAN_MM, Way};
use quarterlight::domain::units::{AngleUnit, DecimalMark, LengthUnit, decimal, parse_angle, parse_length};
use quarterlight::domain::{Effort, Kind, Lot, Routine, Task, Tool, Tube};
use quarterlight::lot::batches::BatchRules;
use quarterlight::output::bench_page::{
    Answer, Asked, FellForm, Grid, Look, Measure, Order, Prompt, State as TubeState, TubeLine, card, cautions_page,
    encoded, fell, fragment, measure, next_words, plain_words, prompts_of, tubes,
};
use quarterlight::output::show::Units;
use quarterlight::readings::{ReadError, TYPED_FILE, pointed};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::task::spawn_blocking;
use tokio::time::timeout;

/// So long a page waits for the newest look before it is given the one before.
const PATIENCE: Duration = Duration::from_millis(600);
/// Cells of a grid: as many as a long column.
const MOST_CELLS: usize = 600;
/// Places and angles of a grid.
const MOST_PLACES: usize = 60;
const MOST_ANGLES: usize = 72;
/// What the page of a card may do: as all pages, and its figures may have a style of their own.
const CARD_POLICY: &str = "default-src 'none'; style-src 'self'; style-src-attr 'unsafe-inline'; script-src 'self'; \
    img-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// A page that says that the lot cannot be read.
pub fn unread(bench: &Bench, e: &ReadError) -> Response {
    (StatusCode::CONFLICT, html(plain_words(&bench.desk(), "The lot cannot be read", &e.to_string()))).into_response()
}

fn no_tube(bench: &Bench) -> Response {
    let words = "The lot has no such tube: was it renamed in its files?";
    (StatusCode::NOT_FOUND, html(plain_words(&bench.desk(), "No such tube", words))).into_response()
}

/// All tubes.
pub async fn index(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let order = asked(&request, "by").and_then(|w| Order::from_word(&w)).unwrap_or_default();
    let only = asked(&request, "only").and_then(|w| TubeState::from_word(&w));
    let refused = asked(&request, "refused");
    work(&bench, move |b| {
        let now = match b.known.now() {
            Ok(now) => now,
            Err(e) => return unread(b, &e),
        };
        let (lines, sum) = (tube_lines(b, &now), sum(b, &now));
        html(tubes(&b.desk(), &lines, order, only, &sum, refused.as_deref()))
    })
    .await
}

fn tube_lines(bench: &Bench, now: &Now) -> Vec<TubeLine> {
    let whole = bench.known.whole();
    let piles = whole.as_ref().and_then(|w| w.plan.batches(&BatchRules::default()).ok());
    let pile_of =
        |name: &str| piles.as_ref()?.piles.iter().find(|p| p.tubes.iter().any(|t| t.tube == name)).map(|p| p.pile);
    let line = |tube: &Tube| {
        let plan =
            whole.as_ref().and_then(|w| w.plan.outcomes.iter().find(|o| o.tube == tube.name)?.plan.as_deref().ok());
        let advice = bench.known.advice(&tube.name, false);
        let got = tube.cut.as_ref().and_then(|c| c.got(now.lot.target.pieces));
        TubeLine {
            tube: tube.name.clone(),
            state: state(tube, advice.as_ref(), got),
            blanks: plan.and_then(|p| p.split.as_ref()).map(|s| (s.best.expected, s.interval.0, s.interval.1)),
            verdict: plan.map(|p| p.screen.verdict.word()),
            pile: pile_of(&tube.name),
            readings: tube.readings.len(),
            may_gain: advice.as_ref().and_then(|a| a.next.as_ref()).map(|p| p.gain_blanks),
            got,
        }
    };
    now.lot.tubes.iter().map(line).collect()
}

fn state(tube: &Tube, advice: Option<&Advice>, got: Option<u32>) -> TubeState {
    if tube.in_doubt {
        TubeState::ToMend
    } else if got.is_some() {
        TubeState::Cut
    } else if tube.is_split() {
        TubeState::Split
    } else if tube.is_unread() {
        TubeState::NotMeasured
    } else if advice.is_some_and(Advice::settled) {
        TubeState::Settled
    } else {
        TubeState::Partly
    }
}

fn sum(bench: &Bench, now: &Now) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(whole) = bench.known.whole() {
        let f = &whole.plan.forecast;
        if whole.plan.plans().is_empty() {
            said.push("No tube has a plan yet: measure one.".into());
        } else {
            let mut words = format!(
                "{} blanks expected of the measured tubes, 90 %: {} to {}.",
                decimal(f.blanks.expected, 0),
                decimal(f.blanks.low, 0),
                decimal(f.blanks.high, 0)
            );
            let got: u32 = now.lot.tubes.iter().filter_map(|t| t.cut.as_ref()?.got(now.lot.target.pieces)).sum();
            let promised: f64 = now
                .lot
                .tubes
                .iter()
                .filter(|t| t.cut.as_ref().is_some_and(|c| c.got(now.lot.target.pieces).is_some()))
                .filter_map(|t| {
                    whole.plan.outcomes.iter().find(|o| o.tube == t.name)?.plan.as_deref().ok().map(|p| p.expected())
                })
                .sum();
            if got > 0 || promised > 0.0 {
                words +=
                    &format!(" Of the tubes that are cut {got} were got where {} were promised.", decimal(promised, 1));
            }
            said.push(words);
        }
    }
    said.extend(bench.known.fault().map(|f| format!("The lot cannot be planned: {f}")));
    let errors = Known::errors(now);
    let more = errors.len().saturating_sub(8);
    said.extend(errors.into_iter().take(8));
    if more > 0 {
        said.push(format!("{more} more faults in its files: `quarterlight check` lists them."));
    }
    said
}

/// The lot as it is and a look at a tube.
fn looked(bench: &Bench, tube: &str, thorough: bool, asked: Instant) -> Result<(Arc<Now>, Looked), Box<Response>> {
    let now = bench.known.now().map_err(|e| Box::new(unread(bench, &e)))?;
    match bench.known.look(tube, thorough, asked) {
        Ok(Some(looked)) => Ok((now, looked)),
        Ok(None) => Err(Box::new(no_tube(bench))),
        Err(e) => Err(Box::new(unread(bench, &e))),
    }
}

fn look_of(bench: &Bench, looked: &Looked) -> Look {
    match looked {
        Looked::Quick(q) if !q.learned => Look::Before(q.plan.options.draws),
        Looked::Quick(q) if q.plan.options.draws < bench.known.options.draws => Look::First(q.plan.options.draws),
        Looked::Quick(q) => Look::Full(q.plan.options.draws),
        Looked::Whole { whole, current: false, .. } => Look::Full(whole.plan.options.draws),
        Looked::Whole { whole, .. } => Look::Whole(whole.plan.options.draws),
    }
}

/// Does something with the answer of a look.
fn with_answer<T>(bench: &Bench, tube: &str, looked: &Looked, what: impl FnOnce(&Answer<'_>) -> T) -> T {
    let (plan, lot, views, at) = parts(looked);
    let input = bench.known.input(plan, lot, views);
    let advice = bench.known.advice(tube, false);
    let answer = Answer {
        input: &input,
        at,
        look: look_of(bench, looked),
        advice: advice.as_ref(),
        odd: odd(plan, lot, at, input.units),
    };
    what(&answer)
}

/// Doubted readings that were typed on these pages.
fn odd(plan: &quarterlight::lot::Assessed, lot: &Lot, at: usize, units: Units) -> Vec<(Asked, String)> {
    let Some((tube, plan)) = lot.tubes.get(at).zip(plan.outcomes.get(at).and_then(|o| o.plan.as_deref().ok())) else {
        return Vec::new();
    };
    let one = |d: &quarterlight::tube::Doubted| {
        let r = tube.readings.get(d.index).filter(|r| &*r.place.file == TYPED_FILE)?;
        let span = r.span_mm.filter(|_| r.kind == Kind::Bridge);
        let asked = Asked {
            kind: r.kind.word(),
            z: r.z_mm,
            angle: r.angle.degrees(),
            set: r.set.clone(),
            rig: r.rig.clone(),
            span,
        };
        let about = if r.kind.is_angle() {
            format!("{} deg", decimal(d.expected_mm, 1))
        } else {
            format!("{} {}", units.length(d.expected_mm, 2), units.word())
        };
        Some((
            asked,
            format!("odd: the rest of the tube says about {about}. Read it again; as it stands it hardly counts."),
        ))
    };
    plan.fit.doubted.iter().filter_map(one).collect()
}

/// Whether the cautions were read on this visit.
fn was_cautioned(request: &Request) -> bool {
    cookie(request.headers(), "bench-cautions").is_some()
}

/// The split card's place on the page of readings, before the cautions were read.
fn cautions_first(tube: &str) -> Markup {
    markup! { p { "Before the first split card of a visit: " a id="cautions-first" href=(format!("/card?tube={}", encoded(tube))) { "the cautions" } "." } }
}

fn drawn(made: Result<Markup, quarterlight::paper::scene::DrawError>) -> Markup {
    made.unwrap_or_else(|e| markup! { p.warn { "A fault of ours: " (e.to_string()) } })
}

/// The split as it stands, to be put into a page. Where many ask at once the look before this one is given after a while, and
/// says that it is.
pub async fn answer(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let now = Instant::now();
    let (tube, thorough) = (asked(&request, "tube").unwrap_or_default(), asked(&request, "more").is_some());
    let cautioned = was_cautioned(&request);
    drop(request);
    let (own, name) = (bench.clone(), tube.clone());
    let mut task = tokio::spawn(async move {
        let _turn = own.turn(&name).await;
        work(&own, move |b| match looked(b, &name, thorough, now) {
            Ok((_, looked)) => answered(b, &name, &looked, cautioned, false),
            Err(refused) => *refused,
        })
        .await
    });
    let fault = |_| refuse(StatusCode::INTERNAL_SERVER_ERROR, "a fault of ours");
    if let Ok(done) = timeout(PATIENCE, &mut task).await {
        return done.map_err(fault)?;
    }
    if let Some(older) = bench.known.older(&tube) {
        let own = bench.clone();
        // few lines of HTML: not worth waiting for room
        return spawn_blocking(move || answered(&own, &tube, &older, cautioned, true)).await.map_err(fault);
    }
    task.await.map_err(fault)?
}

fn answered(b: &Bench, tube: &str, looked: &Looked, cautioned: bool, behind: bool) -> Response {
    let (body, stage) = with_answer(b, tube, looked, |a| {
        let shown = if cautioned {
            drawn(fragment(a))
        } else {
            markup! { (cautions_first(tube)) (odd_only(a)) }
        };
        (shown, if behind { "behind" } else { a.look.word() })
    });
    let said = markup! { @if behind { p.warn { "The last readings are not in it yet: it follows." } } (body) };
    ([("x-stage", stage)], html(said.into_string())).into_response()
}

/// What is said of single readings, without the split.
fn odd_only(a: &Answer<'_>) -> Markup {
    markup! { @for (asked, why) in &a.odd { span.hidden data-odd=(asked.key()) { (why) } } }
}

/// The split card.
pub async fn card_page(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let tube = asked(&request, "tube").unwrap_or_default();
    let cautioned = was_cautioned(&request);
    let asked_at = Instant::now();
    let _turn = bench.turn(&tube).await;
    work(&bench, move |b| {
        let (_, looked) = match looked(b, &tube, true, asked_at) {
            Ok(both) => both,
            Err(refused) => return *refused,
        };
        if !cautioned {
            return html(cautions_page(&b.desk(), &format!("/card?tube={}", encoded(&tube))));
        }
        match with_answer(b, &tube, &looked, |a| card(&b.desk(), a)) {
            // its pictures say in an attribute how wide they are
            Ok(page) => ([("content-security-policy", CARD_POLICY)], html(page)).into_response(),
            Err(e) => refuse(StatusCode::INTERNAL_SERVER_ERROR, format!("a fault of ours: {e}")),
        }
    })
    .await
}

/// Rig and span that a kind is read with in this lot.
fn rig_of(lot: &Lot, kind: Kind) -> (String, Option<f64>) {
    let hand = AtHand::all(lot).into_iter().find(|h| h.way.kind() == kind);
    let tool = Tool::ALL.into_iter().find(|t| t.kind() == kind);
    let named = hand.as_ref().map(|h| h.rig.clone()).filter(|r| !r.is_empty());
    let own = || tool.map(Tool::word).filter(|w| lot.rigs.contains_key(*w)).map(str::to_string);
    let rig = named.or_else(own).unwrap_or_default();
    let span = (kind == Kind::Bridge).then(|| hand.and_then(|h| h.span_mm).unwrap_or(BAR_SPAN_MM));
    (rig, span)
}

/// What is typed of a tube on these pages.
fn typed(bench: &Bench, tube: &str) -> Vec<Prompt> {
    let bytes = load(&bench.known.folder, TYPED_FILE).ok().flatten().unwrap_or_default();
    let one = |(at, cell): (quarterlight::readings::TypedAt, String)| Prompt {
        asked: Asked {
            kind: at.kind.word(),
            z: at.z_mm,
            angle: at.angle_deg,
            set: at.set,
            rig: at.rig,
            span: at.span_mm,
        },
        was: cell,
    };
    typed_of(&bytes, tube).into_iter().map(one).collect()
}

fn filled(asked: Vec<Asked>, typed: &[Prompt]) -> Vec<Prompt> {
    let was =
        |a: &Asked| typed.iter().rev().find(|p| p.asked.key() == a.key()).map_or(String::new(), |p| p.was.clone());
    asked.into_iter().map(|a| Prompt { was: was(&a), asked: a }).collect()
}

/// Where readings are typed.
pub async fn measure_page(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let [tube, with, places, angles] =
        ["tube", "with", "places", "angles"].map(|n| asked(&request, n).unwrap_or_default());
    let tool = Tool::from_word(&with);
    let cautioned = was_cautioned(&request);
    let asked_at = Instant::now();
    let _turn = bench.turn(&tube).await;
    work(&bench, move |b| {
        let (now, looked) = match looked(b, &tube, false, asked_at) {
            Ok(both) => both,
            Err(refused) => return *refused,
        };
        let Some(read) = now.lot.tubes.iter().find(|t| t.name == tube) else { return no_tube(b) };
        let units = b.known.units(&now.lot);
        let typed = typed(b, &tube);
        let grid = tool.map(|tool| a_grid(&now.lot, read, tool, [&places, &angles], units, &typed));
        let (prompts, ends, advised) =
            if grid.is_some() { (Vec::new(), false, None) } else { one_by_one(b, &now.lot, read, &typed, units) };
        let (answer, stage) = with_answer(b, &tube, &looked, |a| {
            let shown = if cautioned {
                drawn(fragment(a))
            } else {
                markup! { (cautions_first(&tube)) (odd_only(a)) }
            };
            (shown, a.look.word())
        });
        let shown = Measure {
            tube: &tube,
            length_mm: read.length_mm,
            advised,
            next: if prompts.is_empty() && grid.is_none() {
                next(b, &tube, units)
            } else {
                markup! {}
            },
            prompts,
            ends,
            grid,
            elsewhere: read.readings.iter().filter(|r| &*r.place.file != TYPED_FILE).count(),
            typed,
            minutes: b.minutes(&tube),
            answer,
            stage,
        };
        html(measure(&b.desk(), &shown))
    })
    .await
}

/// The round that a tube is in, or the next one that is advised.
fn one_by_one(
    b: &Bench,
    lot: &Lot,
    read: &Tube,
    typed: &[Prompt],
    units: Units,
) -> (Vec<Prompt>, bool, Option<String>) {
    let held = filled(b.queue(&read.name), typed);
    if held.iter().any(|p| p.was.is_empty()) {
        return (held, false, None);
    }
    let Some(advice) = b.known.advice(&read.name, true) else { return (Vec::new(), false, None) };
    let Some(package) = &advice.next else {
        if !read.is_unread() || read.length_mm <= 0.0 {
            return (Vec::new(), false, None);
        }
        let prompts = first_readings(lot, read.length_mm, units);
        b.set_queue(&read.name, prompts.clone());
        let why = "Nothing is known of this tube yet: the fewest readings worth taking, then what they leave to gain.";
        return (filled(prompts, typed), false, Some(why.into()));
    };
    let rig = |w: Way| rig_of(lot, w.kind()).0;
    let prompts = prompts_of(&package.rounds, &rig);
    b.set_queue(&read.name, prompts.clone());
    let ends = package.rounds.iter().any(|r| r.way == Way::Ends);
    (filled(prompts, typed), ends, Some(next_words(&advice, units)))
}

/// The fewest readings worth taking with what the lot is read with, in the order the hands take them.
fn first_readings(lot: &Lot, length_mm: f64, units: Units) -> Vec<Asked> {
    let hands = AtHand::chosen(&AtHand::all(lot), &[]);
    let tools: Vec<Tool> = Tool::ALL.into_iter().filter(|t| hands.iter().any(|h| h.way.kind() == t.kind())).collect();
    let mut asked = Vec::new();
    for task in Routine::of(Effort::Quick, &tools).tasks {
        let (rig, span) = rig_of(lot, task.tool.kind());
        let places = even(task.places_mm(length_mm, span.unwrap_or(BAR_SPAN_MM)), units);
        let mut one = |z: f64, a: f64| asked.push(Asked::of(task.tool.kind(), z, a, &rig, span));
        if matches!(task.tool, Tool::Bridge | Tool::Straightedge) {
            task.angles_deg().iter().for_each(|&a| places.iter().for_each(|&z| one(z, a)));
        } else {
            places.iter().for_each(|&z| task.angles_deg().iter().for_each(|&a| one(z, a)));
        }
    }
    asked
}

/// Places in whole millimetres, or eighths of an inch: what is shown is what is kept.
fn even(places_mm: Vec<f64>, units: Units) -> Vec<f64> {
    let step = if units == Units::Inch { LengthUnit::Inch.mm() / 8.0 } else { 1.0 };
    places_mm.into_iter().map(|z| (z / step).round() * step).collect()
}

fn a_grid(lot: &Lot, read: &Tube, tool: Tool, typed_in: [&str; 2], units: Units, typed: &[Prompt]) -> Grid {
    let (rig, span) = rig_of(lot, tool.kind());
    let task = Task::of(tool, Effort::Usual);
    // commas stand between the numbers here, with a blank behind them; one inside a number is a decimal mark
    let apart = |text: &str| -> Vec<String> {
        text.replace(", ", " ")
            .split([' ', ';'])
            .map(|t| pointed(t.trim_matches(',')))
            .filter(|t| !t.is_empty())
            .collect()
    };
    let length = read.length_mm;
    let place =
        |t: &String| parse_length(t, bare(units), DecimalMark::Point).ok().filter(|z| (0.0..=length).contains(z));
    let angle = |t: &String| {
        let read = parse_angle(t, AngleUnit::Degree, DecimalMark::Point).ok().map(|a| a.degrees());
        read.filter(|a| (0.0..360.0).contains(a))
    };
    let mut unread = Vec::new();
    let mut taken = |text: &str, most: usize, read: &dyn Fn(&String) -> Option<f64>| -> Vec<f64> {
        let mut all = Vec::new();
        for t in apart(text) {
            match read(&t) {
                Some(x) if all.len() < most => all.push(x),
                _ => unread.push(t.chars().take(40).collect::<String>()),
            }
        }
        all
    };
    let mut places = taken(typed_in[0], MOST_PLACES, &place);
    let mut angles = taken(typed_in[1], MOST_ANGLES, &angle);
    if places.is_empty() {
        places = even(task.places_mm(length, span.unwrap_or(BAR_SPAN_MM)), units);
    }
    if angles.is_empty() {
        angles = task.angles_deg();
    }
    let rows = (MOST_CELLS / angles.len().max(1)).max(1);
    unread.extend(places.iter().skip(rows).map(|z| units.length(*z, 1)));
    places.truncate(rows);
    let row = |z: &f64| filled(angles.iter().map(|a| Asked::of(tool.kind(), *z, *a, &rig, span)).collect(), typed);
    let cells = places.iter().map(row).collect();
    Grid { tool, angles_deg: angles, places_mm: places, cells, left_out: unread }
}

/// What stands where a round is over: more of it, or that it is enough and what comes next.
fn next(b: &Bench, tube: &str, units: Units) -> Markup {
    let advice = b.known.advice(tube, true);
    let other = next_tube(b, tube);
    let minutes = b.minutes(tube);
    markup! {
        @match &advice {
            Some(a) if !a.settled() => {
                p { (next_words(a, units)) }
                p { a.press href=(format!("/measure?tube={}", encoded(tube))) { "take these readings" } }
            },
            Some(a) => p.stop id="stop" { (next_words(a, units)) },
            None => p { "What to measure next cannot be told for this tube: type readings into " a href=(format!("/measure?tube={}&with=caliper", encoded(tube))) { "a grid" } "." }
        }
        @if let Some(m) = minutes { p { "This tube took " (decimal(m, 1)) " min." } }
        p {
            a.press href=(format!("/card?tube={}", encoded(tube))) { "split card" } " "
            @if let Some(o) = &other { a.press href=(format!("/measure?tube={}", encoded(o))) { "next tube: " (o) } }
        }
    }
}

/// The same, to be put into a page.
pub async fn next_part(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let tube = asked(&request, "tube").unwrap_or_default();
    work(&bench, move |b| {
        let units = b.desk().units;
        html(next(b, &tube, units).into_string())
    })
    .await
}

/// What became of a tube.
pub async fn fell_page(State(bench): State<Arc<Bench>>, request: Request) -> Result<Response, Response> {
    let (tube, refused) = (asked(&request, "tube").unwrap_or_default(), asked(&request, "refused"));
    if !was_cautioned(&request) {
        return Ok(onward(&format!("/card?tube={}", encoded(&tube))));
    }
    let asked_at = Instant::now();
    let _turn = bench.turn(&tube).await;
    work(&bench, move |b| {
        let (now, looked) = match looked(b, &tube, true, asked_at) {
            Ok(both) => both,
            Err(refused) => return *refused,
        };
        let Some(read) = now.lot.tubes.iter().find(|t| t.name == tube) else { return no_tube(b) };
        let (plan, _, _, at) = parts(&looked);
        let plan = plan.outcomes.get(at).and_then(|o| o.plan.as_deref().ok());
        let whole = b.known.whole().filter(|w| b.known.is_current(w, &now));
        let as_split = whole.as_ref().and_then(|w| w.as_split.get(&tube)?.outcomes.first()?.plan.as_deref().ok());
        let cut = read.cut.clone().unwrap_or_default();
        let units = b.known.units(&now.lot);
        let best = plan.and_then(|p| p.split.as_ref()).map(|s| decimal(s.best.angle_deg, 0));
        let shown = FellForm {
            tube: &tube,
            plan,
            as_split,
            pieces: now.lot.target.pieces,
            aim: aim_text(read.cut.as_ref()).or(best).unwrap_or_default(),
            lines: lines_text(read.cut.as_ref()),
            backs: backs_text(read.cut.as_ref(), units),
            blanks: cut.blanks.map_or(String::new(), |n| n.to_string()),
            of_piece: (1..=now.lot.target.pieces)
                .map(|p| cut.of_piece.get(&p).map_or(String::new(), |n| n.to_string()))
                .collect(),
            stretches: cut
                .stretches
                .iter()
                .filter_map(|s| Some((s.piece?, s.from_mm, s.to_mm, if s.got { "yes".into() } else { s.why.clone() })))
                .collect(),
            refused,
        };
        html(fell(&b.desk(), &shown))
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_for_a_grid_and_is_not_in_it_is_told() {
        let tube = Tube { name: "A".into(), length_mm: 180.0, ..Tube::default() };
        let grid = |places: &str, angles: &str| {
            a_grid(&Lot::default(), &tube, Tool::Caliper, [places, angles], Units::Mm, &[])
        };
        let good = grid("60, 100,5", "0, 90");
        assert_eq!((good.places_mm, good.angles_deg, good.left_out), (vec![60.0, 100.5], vec![0.0, 90.0], Vec::new()));
        let some = grid("60, x, 400", "0, 360");
        assert_eq!((some.places_mm, some.angles_deg), (vec![60.0], vec![0.0]));
        assert_eq!(some.left_out, ["x", "400", "360"]);
        let many: Vec<String> = (1..=70).map(|z| z.to_string()).collect();
        let many = grid(&many.join(" "), "0");
        assert_eq!((many.places_mm.len(), many.left_out.len()), (MOST_PLACES, 10));
    }
}
