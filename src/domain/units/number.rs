//! The grammar of numbers: decimals with point or comma, fractions, mixed numbers, and amounts in two units.

use super::error::UnitError;

/// Which sign marks decimals in a file, for texts such as `1,234` that could be meant two ways.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DecimalMark {
    /// Points mark decimals, or nothing is known: `12,5` is read as 12.5, `1,234` is refused.
    #[default]
    Point,
    /// Commas mark decimals: `1,234` is 1.234, and `1.234` is refused.
    Comma,
}

/// Longest text looked at, in characters; a quantity never needs as many.
const MAX_CHARS: usize = 64;
/// Decimals of at most this many digits are held as exact ratios; longer ones as the nearest f64.
const MAX_EXACT_DIGITS: usize = 17;

/// A number not below zero, exact where it was written exactly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Number {
    /// Numerator over denominator, the latter never 0.
    Ratio(u128, u128),
    /// A long decimal or one with an exponent.
    Float(f64),
}

impl Number {
    /// The number times `factor.0 / factor.1`.
    pub(super) fn times(self, factor: (u128, u128)) -> f64 {
        match self {
            Number::Ratio(n, d) => match (n.checked_mul(factor.0), d.checked_mul(factor.1)) {
                (Some(n), Some(d)) => divide(n, d),
                _ => n as f64 / d as f64 * (factor.0 as f64 / factor.1 as f64),
            },
            Number::Float(x) => x * factor.0 as f64 / factor.1 as f64,
        }
    }
}

/// `n / d`, correctly rounded whenever both fit in 53 bits after reduction.
fn divide(n: u128, d: u128) -> f64 {
    let (mut a, mut b) = (n, d);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    let g = a.max(1);
    (n / g) as f64 / (d / g) as f64
}

/// One amount: a number, whether it was written as a fraction, and the unit behind it (empty when bare).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Amount {
    pub(super) number: Number,
    pub(super) fraction: bool,
    pub(super) unit: String,
}

/// All amounts in one text, and whether a minus stands before the first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Amounts {
    pub(super) negative: bool,
    pub(super) list: Vec<Amount>,
}

/// `text` with the many characters for quotes, blanks, minus, slash and common fractions brought to plain ones.
pub(super) fn normalise(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 4);
    for c in text.chars() {
        match c {
            '\u{a0}' | '\u{202f}' | '\u{2007}' | '\u{2009}' | '\t' => out.push(' '),
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2013}' => out.push('-'),
            '\u{2044}' | '\u{2215}' => out.push('/'),
            '″' | '”' | '“' | '‟' => out.push('"'),
            '′' | '’' | '‘' | '‛' => out.push('\''),
            '½' => out.push_str(" 1/2"),
            '¼' => out.push_str(" 1/4"),
            '¾' => out.push_str(" 3/4"),
            '⅓' => out.push_str(" 1/3"),
            '⅔' => out.push_str(" 2/3"),
            '⅛' => out.push_str(" 1/8"),
            '⅜' => out.push_str(" 3/8"),
            '⅝' => out.push_str(" 5/8"),
            '⅞' => out.push_str(" 7/8"),
            c => out.push(c),
        }
    }
    out.replace("''", "\"").trim().to_string()
}

/// Splits `text` into amounts.
pub(super) fn amounts(text: &str, mark: DecimalMark) -> Result<Amounts, UnitError> {
    if text.trim().is_empty() {
        return Err(UnitError::Empty);
    }
    if text.chars().count() > MAX_CHARS {
        return Err(UnitError::NotANumber);
    }
    let plain = normalise(text);
    let (negative, body) = match plain.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, plain.strip_prefix('+').unwrap_or(&plain)),
    };
    let chars: Vec<char> = body.chars().collect();
    let mut at = Cursor { chars: &chars, at: 0 };
    let mut list = Vec::new();
    at.blanks();
    while !at.done() {
        let (number, fraction) = one_number(&mut at, mark).map_err(|e| explain(e, &plain))?;
        at.blanks();
        let unit = at.unit();
        if looks_like_date(&unit) {
            return Err(UnitError::Date);
        }
        list.push(Amount { number, fraction, unit });
        at.blanks();
    }
    if list.is_empty() { Err(UnitError::NotANumber) } else { Ok(Amounts { negative, list }) }
}

/// A better name for "not a number" where the text is one of the words computers print.
fn explain(error: UnitError, plain: &str) -> UnitError {
    let word = plain.trim_start_matches(['-', '+']).to_lowercase();
    let infinite = ["nan", "inf", "infinity", "∞"].contains(&word.as_str());
    if error == UnitError::NotANumber && infinite { UnitError::NotFinite } else { error }
}

/// True for what is left of `5/8/2026` or `8-May` behind its first number.
fn looks_like_date(unit: &str) -> bool {
    const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let word = unit.trim_matches(|c: char| !c.is_alphabetic()).to_lowercase();
    unit.trim() == "/" || MONTHS.contains(&word.as_str())
}

struct Cursor<'a> {
    chars: &'a [char],
    at: usize,
}

impl Cursor<'_> {
    fn done(&self) -> bool {
        self.at >= self.chars.len()
    }

    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn blanks(&mut self) {
        while self.peek() == Some(' ') {
            self.at += 1;
        }
    }

    fn take_while(&mut self, keep: impl Fn(char) -> bool) -> String {
        let from = self.at;
        while self.peek().is_some_and(&keep) {
            self.at += 1;
        }
        self.chars[from..self.at].iter().collect()
    }

    /// Everything up to the next number, without blanks, full stops and commas round it.
    fn unit(&mut self) -> String {
        let from = self.at;
        while let Some(c) = self.peek() {
            let next_is_digit = self.chars.get(self.at + 1).is_some_and(char::is_ascii_digit);
            if c.is_ascii_digit() || (matches!(c, '.' | ',') && next_is_digit) {
                break;
            }
            self.at += 1;
        }
        let text: String = self.chars[from..self.at].iter().collect();
        text.trim().trim_end_matches(['.', ',', ' ']).to_string()
    }

    /// An exponent such as `e-3`, if one stands here and no letter follows.
    fn exponent(&mut self) -> String {
        let mut i = self.at;
        if !matches!(self.chars.get(i), Some('e' | 'E')) {
            return String::new();
        }
        i += 1;
        if matches!(self.chars.get(i), Some('+' | '-')) {
            i += 1;
        }
        let digits = i;
        while self.chars.get(i).is_some_and(char::is_ascii_digit) {
            i += 1;
        }
        if i == digits {
            return String::new();
        }
        let text = self.chars[self.at..i].iter().collect();
        self.at = i;
        text
    }
}

/// One decimal, fraction or mixed number, and whether it was written with a slash.
fn one_number(at: &mut Cursor<'_>, mark: DecimalMark) -> Result<(Number, bool), UnitError> {
    let first = at.take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
    if first.is_empty() {
        return Err(UnitError::NotANumber);
    }
    let exponent = at.exponent();
    if !exponent.is_empty() {
        let text = format!("{}{exponent}", first.replace(',', "."));
        let x: f64 = text.parse().map_err(|_| UnitError::NotANumber)?;
        return Ok((Number::Float(x), false));
    }
    let start = at.at;
    at.blanks();
    if at.peek() == Some('/') {
        return Ok((fraction(at, &first)?, true));
    }
    let spaced = at.at > start;
    let hyphen = at.peek() == Some('-');
    if hyphen {
        at.at += 1;
        at.blanks();
    }
    if (hyphen || spaced) && at.peek().is_some_and(|c| c.is_ascii_digit()) {
        let top = at.take_while(|c| c.is_ascii_digit());
        at.blanks();
        if at.peek() != Some('/') {
            return Err(if hyphen { date_or_not_a_number(at) } else { UnitError::SeveralNumbers });
        }
        let Number::Ratio(n, d) = fraction(at, &top)? else { return Err(UnitError::NotANumber) };
        if n >= d {
            return Err(UnitError::ImproperPart);
        }
        let whole = integer(&first)?;
        return Ok((Number::Ratio(whole * d + n, d), true));
    }
    at.at = start;
    Ok((decimal(&first, mark)?, false))
}

fn date_or_not_a_number(at: &Cursor<'_>) -> UnitError {
    if at.peek() == Some('-') { UnitError::Date } else { UnitError::NotANumber }
}

/// The rest of a fraction whose top is `top`; the cursor stands on the slash.
fn fraction(at: &mut Cursor<'_>, top: &str) -> Result<Number, UnitError> {
    at.at += 1;
    at.blanks();
    let bottom = at.take_while(|c| c.is_ascii_digit());
    let (n, d) = (integer(top)?, integer(&bottom)?);
    if d == 0 { Err(UnitError::ZeroDenominator) } else { Ok(Number::Ratio(n, d)) }
}

/// A whole number of at most nine digits, the most a fraction of an inch can need.
fn integer(text: &str) -> Result<u128, UnitError> {
    if text.len() > 9 || !text.bytes().all(|b| b.is_ascii_digit()) {
        return Err(UnitError::NotANumber);
    }
    text.parse().map_err(|_| UnitError::NotANumber)
}

/// A number written with digits and at most one decimal mark.
fn decimal(text: &str, mark: DecimalMark) -> Result<Number, UnitError> {
    let marks = text.chars().filter(|c| matches!(c, '.' | ',')).count();
    if marks > 1 {
        return Err(grouped(text));
    }
    let (whole, part) = text.split_once(['.', ',']).unwrap_or((text, ""));
    if (whole.is_empty() && part.is_empty()) || (text.ends_with(',')) {
        return Err(UnitError::NotANumber);
    }
    let strange = match mark {
        DecimalMark::Point => ',',
        DecimalMark::Comma => '.',
    };
    let groups_of_three = part.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
    if text.contains(strange) && groups_of_three {
        return Err(UnitError::Grouped { readings: vec![format!("{whole}.{part}"), format!("{whole}{part}")] });
    }
    let digits = format!("{whole}{part}");
    if digits.len() > MAX_EXACT_DIGITS {
        let x: f64 = format!("{whole}.{part}").parse().map_err(|_| UnitError::NotANumber)?;
        return Ok(Number::Float(x));
    }
    let n: u128 = digits.parse().map_err(|_| UnitError::NotANumber)?;
    Ok(Number::Ratio(n, part.bytes().fold(1, |d, _| d * 10)))
}

/// The complaint about a number with several points or commas.
fn grouped(text: &str) -> UnitError {
    let point = text.replace(',', "");
    let comma = text.replace('.', "").replace(',', ".");
    let readings: Vec<String> =
        [point, comma].into_iter().filter(|t| t.chars().filter(|c| *c == '.').count() <= 1).collect();
    UnitError::Grouped { readings }
}
