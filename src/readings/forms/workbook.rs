//! A new lot as a workbook.

use super::settings::{self, State};
use super::table::{Check, FormTable};
use crate::domain::NewLot;
use rust_xlsxwriter::{
    Color, DataValidation, DataValidationErrorStyle, DataValidationRule, DocProperties, ExcelDateTime, Format,
    FormatBorder, Workbook, Worksheet, XlsxError,
};

/// Rows below the last that is filled in whose cells are checked all the same.
const SPARE_ROWS: u32 = 500;

/// Sheets `tubes`, `readings-...` and `lot`.
pub(super) fn write(lot: &NewLot, tables: &[FormTable]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // without a time of its own the same lot would give other bytes every second
    let never = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_creation_datetime(&never));
    for form in tables {
        sheet(book.add_worksheet(), form)?;
    }
    lot_sheet(book.add_worksheet(), lot)?;
    book.save_to_buffer()
}

fn head() -> Format {
    Format::new().set_bold().set_background_color(Color::RGB(0xE8_E4_D8)).set_border_bottom(FormatBorder::Thin)
}

fn sheet(out: &mut Worksheet, form: &FormTable) -> Result<(), XlsxError> {
    out.set_name(&form.name)?;
    out.set_freeze_panes(1, 1)?;
    let (head, boxed) = (head(), Format::new().set_border(FormatBorder::Hair));
    let rows = u32::try_from(form.rows.len()).unwrap_or(u32::MAX);
    for ((c, header), check) in (0u16..).zip(&form.headers).zip(&form.checks) {
        out.write_with_format(0, c, header.as_str(), &head)?;
        out.set_column_width(c, if *check == Check::Free { 12.0 } else { 10.0 })?;
        if let Check::Number(least, most) = *check {
            out.add_data_validation(1, c, rows + SPARE_ROWS, c, &range(header, least, most))?;
        }
    }
    for (r, row) in (1u32..).zip(&form.rows) {
        for ((c, header), check) in (0u16..).zip(&form.headers).zip(&form.checks) {
            match row.get(usize::from(c)) {
                // places and angles are numbers, names never, not even 01
                Some(cell) if header.starts_with("z_") || header.starts_with("angle") || *check != Check::Free => {
                    out.write(r, c, cell.parse::<f64>().unwrap_or_default())?;
                }
                Some(cell) => {
                    out.write(r, c, cell.as_str())?;
                }
                None if *check != Check::Free => {
                    out.write_blank(r, c, &boxed)?;
                }
                None => {}
            }
        }
    }
    Ok(())
}

/// A number within what a tube can give; what is outside may be typed after a question.
fn range(header: &str, least: f64, most: f64) -> DataValidation {
    let round = |x: f64| (x * 1e4).round() / 1e4;
    let (least, most) = (round(least), round(most));
    let rule = DataValidationRule::Between(least, most);
    let check = DataValidation::new().allow_decimal_number(rule).set_error_style(DataValidationErrorStyle::Warning);
    let words =
        format!("A number from {least} to {most} is expected under {header}. Leave it empty if it was not taken.");
    let titled = check.set_error_title("Is this right?").and_then(|c| c.set_error_message(words));
    titled.unwrap_or_else(|_| DataValidation::new().allow_decimal_number(DataValidationRule::Between(least, most)))
}

fn lot_sheet(out: &mut Worksheet, lot: &NewLot) -> Result<(), XlsxError> {
    out.set_name("lot")?;
    out.set_freeze_panes(1, 0)?;
    let (head, bold) = (head(), Format::new().set_bold());
    let soft = Format::new().set_font_color(Color::RGB(0x60_60_60));
    for ((c, title), width) in (0u16..).zip(["section", "key", "value"]).zip([20.0, 18.0, 24.0]) {
        out.write_with_format(0, c, title, &head)?;
        out.set_column_width(c, width)?;
    }
    let mut row = 1;
    for line in settings::HEAD {
        out.write_with_format(row, 0, format!("# {line}"), &soft)?;
        row += 1;
    }
    let mut section = String::new();
    for s in settings::all(lot) {
        if s.section != section {
            section.clone_from(&s.section);
            // rigs are declared by a row of their own, whether or not anything is stated of them
            let mark = if section.starts_with("rig.") { "" } else { "# " };
            out.write_with_format(row, 0, format!("{mark}{section}"), &bold)?;
            row += 1;
        }
        let word = match s.state {
            State::Given => "",
            State::Default => "default; ",
            State::Example => "for example; ",
        };
        out.write_with_format(row, 0, format!("# {word}{}", s.about), &soft)?;
        let mark = if s.state == State::Given { "" } else { "# " };
        row += 1;
        out.write(row, 0, format!("{mark}{}", s.section))?;
        out.write(row, 1, s.key)?;
        out.write(row, 2, s.bare())?;
        row += 1;
    }
    Ok(())
}
