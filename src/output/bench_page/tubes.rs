//! The tubes of the lot: how far each is, what it promises, where to go on.

use super::frame::{Desk, Place, page};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::paper::font::plain;
use maud::{Markup, html};

/// How far a tube is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Nothing is known of its shape.
    NotMeasured,
    /// Measured, and more measuring may pay.
    Partly,
    /// The next minute of measuring is not worth it.
    Settled,
    /// Its split lines are written down.
    Split,
    /// What came of it is written down.
    Cut,
    /// Its files hold something to be mended.
    ToMend,
}

impl State {
    /// All of them.
    pub const ALL: [State; 6] =
        [State::NotMeasured, State::Partly, State::Settled, State::Split, State::Cut, State::ToMend];

    /// The word shown and typed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            State::NotMeasured => "not measured",
            State::Partly => "partly",
            State::Settled => "settled",
            State::Split => "split",
            State::Cut => "cut",
            State::ToMend => "to mend",
        }
    }

    /// By its word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<State> {
        State::ALL.into_iter().find(|s| s.word() == word)
    }
}

/// What the list is ordered by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// As in the files.
    #[default]
    Lot,
    /// By name.
    Name,
    /// By state.
    State,
    /// By blanks, most first.
    Blanks,
    /// By pile.
    Pile,
    /// By what more measuring may gain, most first.
    Gain,
}

impl Order {
    const ALL: [(Order, &'static str); 6] = [
        (Order::Lot, "lot"),
        (Order::Name, "tube"),
        (Order::State, "state"),
        (Order::Blanks, "blanks"),
        (Order::Pile, "pile"),
        (Order::Gain, "may gain"),
    ];

    /// By its word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Order> {
        Order::ALL.iter().find(|o| o.1 == word).map(|o| o.0)
    }

    fn word(self) -> &'static str {
        Order::ALL.iter().find(|o| o.0 == self).map_or("lot", |o| o.1)
    }
}

/// One tube of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeLine {
    /// Its name.
    pub tube: String,
    /// How far it is.
    pub state: State,
    /// Blanks expected and the 90 % interval.
    pub blanks: Option<(f64, f64, f64)>,
    /// Whether it is worth splitting, in a word.
    pub verdict: Option<&'static str>,
    /// Its pile.
    pub pile: Option<usize>,
    /// Readings it has.
    pub readings: usize,
    /// What more measuring may gain, blanks.
    pub may_gain: Option<f64>,
    /// Blanks that were got.
    pub got: Option<u32>,
}

fn sorted(lines: &[TubeLine], order: Order) -> Vec<&TubeLine> {
    let mut all: Vec<&TubeLine> = lines.iter().collect();
    match order {
        Order::Lot => {}
        Order::Name => all.sort_by(|a, b| a.tube.cmp(&b.tube)),
        Order::State => all.sort_by_key(|l| l.state),
        Order::Blanks => all.sort_by(|a, b| blanks(b).total_cmp(&blanks(a))),
        Order::Pile => all.sort_by_key(|l| l.pile.unwrap_or(usize::MAX)),
        Order::Gain => all.sort_by(|a, b| gain(b).total_cmp(&gain(a))),
    }
    all
}

fn blanks(l: &TubeLine) -> f64 {
    l.blanks.map_or(-1.0, |b| b.0)
}

fn gain(l: &TubeLine) -> f64 {
    l.may_gain.unwrap_or(-1.0)
}

/// The page. `sum`: what the lot gives, in words; `typed`: a tube that was typed and refused, and why.
#[must_use]
pub fn tubes(
    desk: &Desk,
    lines: &[TubeLine],
    order: Order,
    only: Option<State>,
    sum: &[String],
    refused: Option<&str>,
) -> String {
    let shown: Vec<&TubeLine> =
        sorted(lines, order).into_iter().filter(|l| only.is_none_or(|s| l.state == s)).collect();
    let body = html! {
        @for line in sum { p { (plain(line)) } }
        (filters(lines, order, only))
        @if shown.is_empty() { p { "No tube here." } } @else { (table(&shown, order, only)) }
        (add(desk, refused))
    };
    page(desk, Place::Tubes, "Tubes", None, &body)
}

fn link(order: Order, only: Option<State>) -> String {
    let only = only.map_or(String::new(), |s| format!("&only={}", s.word().replace(' ', "+")));
    format!("/?by={}{only}", order.word().replace(' ', "+"))
}

fn filters(lines: &[TubeLine], order: Order, only: Option<State>) -> Markup {
    let of = |s: State| lines.iter().filter(|l| l.state == s).count();
    html! {
        nav aria-label="Which tubes" {
            a href=(link(order, None)) aria-current=[only.is_none().then_some("true")] { "all " (lines.len()) }
            @for s in State::ALL {
                @if of(s) > 0 {
                    a href=(link(order, Some(s))) aria-current=[(only == Some(s)).then_some("true")] { (s.word()) " " (of(s)) }
                }
            }
        }
    }
}

fn table(lines: &[&TubeLine], order: Order, only: Option<State>) -> Markup {
    let title = |o: Order, words: &'static str| {
        let sorted = (o == order && o != Order::Lot).then_some("other");
        html! { th scope="col" aria-sort=[sorted] { a href=(link(o, only)) { (words) } } }
    };
    html! {
        table.stack {
            thead { tr {
                (title(Order::Name, "tube")) (title(Order::State, "state")) (title(Order::Blanks, "blanks"))
                th scope="col" { "90 %" } (title(Order::Pile, "pile")) (title(Order::Gain, "may gain")) th scope="col" { "go to" }
            } }
            tbody { @for l in lines { (row(l)) } }
        }
    }
}

fn row(l: &TubeLine) -> Markup {
    let to = |path: &str| format!("/{path}?tube={}", encoded(&l.tube));
    html! {
        tr {
            td data-label="tube" { b { a href=(to("card")) { (plain(&l.tube)) } } @if let Some(v) = l.verdict { " " small { (v) } } }
            td.state data-label="state" { (l.state.word()) @if l.readings > 0 { " " small { "(" (counted(l.readings, "reading")) ")" } } }
            td.nb data-label="blanks" {
                @match (l.got, l.blanks) {
                    (Some(got), Some(b)) => { b { (got) " got" } " of " (decimal(b.0, 1)) },
                    (Some(got), None) => b { (got) " got" },
                    (None, Some(b)) => (decimal(b.0, 1)),
                    (None, None) => "–",
                }
            }
            td.nb data-label="90 %" { @if let Some(b) = l.blanks { (decimal(b.1, 0)) " to " (decimal(b.2, 0)) } @else { "–" } }
            td.nb data-label="pile" { @if let Some(p) = l.pile { (p) } @else { "–" } }
            td.nb data-label="may gain" { @if let Some(g) = l.may_gain { (decimal(g, 1)) } @else { "–" } }
            td data-label="go to" { a href=(to("measure")) { "measure" } " · " a href=(to("fell")) { "split, cut" } }
        }
    }
}

fn add(desk: &Desk, refused: Option<&str>) -> Markup {
    let unit = desk.units.word();
    html! {
        details open[refused.is_some()] {
            summary { "Add a tube" }
            @if let Some(why) = refused { p.warn role="alert" { (plain(why)) } }
            form method="post" action="/tubes" {
                input type="hidden" name="token" value=(desk.token);
                label { span { "name" } input name="tube" required maxlength="100" autocomplete="off"; }
                label { span { "length (" (unit) " where no unit is typed)" } input name="length" required inputmode="decimal" autocomplete="off"; }
                label { span { "weight (g where no unit is typed)" } input name="weight" inputmode="decimal" autocomplete="off"; }
                button.main { "add and measure" }
            }
        }
    }
}

/// A name as it stands in an address.
#[must_use]
pub fn encoded(name: &str) -> String {
    let keep = |b: &u8| b.is_ascii_alphanumeric() || b"-_.~".contains(b);
    name.bytes().map(|b| if keep(&b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::show::Units;

    fn line(tube: &str, state: State, blanks: f64) -> TubeLine {
        TubeLine {
            tube: tube.into(),
            state,
            blanks: Some((blanks, 0.0, 9.0)),
            verdict: None,
            pile: None,
            readings: 3,
            may_gain: None,
            got: None,
        }
    }

    #[test]
    fn names_are_escaped_and_the_list_is_sorted_and_filtered() {
        let desk = Desk { lot: "<b>".into(), token: "t".into(), units: Units::Mm, doing: String::new() };
        let lines = [line("<i>&x", State::Partly, 2.0), line("B", State::Cut, 5.0), line("A", State::Partly, 3.0)];
        let page = tubes(&desk, &lines, Order::Blanks, Some(State::Partly), &[], None);
        assert!(!page.contains("<i>") && page.contains("&lt;i&gt;&amp;x") && page.contains("%3Ci%3E%26x"));
        assert!(!page.contains("/card?tube=B"));
        assert!(page.find("/card?tube=A").expect("shown") < page.find("%3Ci").expect("shown"));
        assert!(page.contains("cut 1") && page.contains("all 3"));
    }
}
