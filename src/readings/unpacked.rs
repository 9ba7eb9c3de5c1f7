//! What a workbook would come to unpacked, measured before it is read: a few kilobytes can pack a gigabyte.

use super::ods_area::largest_sheet;
use std::io::{BufReader, Cursor, Read};

/// Most bytes of all parts of a workbook together, as for any other file.
const MOST_UNPACKED: u64 = super::dialect::MAX_BYTES;
/// Longest text between two tags, bytes. A cell of a spreadsheet holds at most 32,767 characters (Office Open XML as
/// published limits of the common programs), each of at most six bytes as an entity.
const LONGEST_TEXT: usize = 1_000_000;
/// Cells of one sheet of an `.ods` workbook, which its reader lays out as a full rectangle.
const MOST_CELLS: u64 = 5_000_000;
/// What is too large as a whole.
const VERY_LARGE: &str = "a very large workbook";
/// Parts of one workbook.
const MOST_PARTS: usize = 10_000;

/// Why a workbook is not read, in words; `None` when it is of a size to read, or no archive at all: the reader says so.
/// Time and memory are bounded by [`MOST_UNPACKED`], whatever the archive declares.
pub(super) fn too_large(bytes: &[u8]) -> Option<String> {
    if bytes.len() as u64 > MOST_UNPACKED {
        return Some(VERY_LARGE.to_string());
    }
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).ok()?;
    if archive.len() > MOST_PARTS {
        return Some(format!("a workbook of {} parts", archive.len()));
    }
    let mut total = 0;
    let mut chunk = vec![0; 1 << 16];
    for i in 0..archive.len() {
        let Ok(mut part) = archive.by_index(i) else { continue };
        let xml = part.name().unwrap_or_default().to_lowercase().ends_with(".xml");
        let mut text = 0;
        // a part that cannot be unpacked is the reader's to tell
        while let Ok(n @ 1..) = part.read(&mut chunk) {
            total += n as u64;
            if total > MOST_UNPACKED {
                return Some(VERY_LARGE.to_string());
            }
            // the first piece goes on with the text before it, every other begins at a tag
            for (i, piece) in chunk[..n].split(|b| *b == b'<').enumerate() {
                text = piece.len() + if i == 0 { text } else { 0 };
                if xml && text > LONGEST_TEXT {
                    return Some("a cell of more than a million characters".to_string());
                }
            }
        }
    }
    // read again with its tags in mind, now that it is known to end
    let content = archive.by_name("content.xml").ok()?;
    let laid_out = largest_sheet(BufReader::new(content));
    (laid_out > MOST_CELLS).then(|| format!("a sheet that would be laid out in {laid_out} cells"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;

    fn packed(parts: &[(&str, Vec<u8>)]) -> Vec<u8> {
        let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, body) in parts {
            archive.start_file(*name, zip::write::SimpleFileOptions::default()).expect("a part");
            archive.write_all(body).expect("packed");
        }
        archive.finish().expect("packed").into_inner()
    }

    #[test]
    fn one_huge_cell_and_many_small_ones_are_told_before_they_are_read() {
        let cell = packed(&[(
            "xl/worksheets/sheet1.xml",
            [b"<t>".to_vec(), vec![b'x'; 2_000_000], b"</t>".to_vec()].concat(),
        )]);
        assert!(cell.len() < 10_000, "{}", cell.len());
        assert_eq!(too_large(&cell).as_deref(), Some("a cell of more than a million characters"));
        let small = b"<row><c><v>1</v></c></row>".repeat(8_000_000);
        assert_eq!(
            too_large(&packed(&[("xl/worksheets/sheet1.xml", small)])).as_deref(),
            Some("a very large workbook")
        );
    }

    #[test]
    fn a_filled_cell_in_the_last_column_of_every_row_is_not_laid_out() {
        let far = "<r:table-row><r:table-cell r:number-columns-repeated='16383'/><r:table-cell><p>1</p></r:table-cell></r:table-row>";
        let sheet = format!("<r:table>{}</r:table>", far.repeat(1000));
        let told = too_large(&packed(&[("content.xml", sheet.into_bytes())]));
        assert_eq!(told.as_deref(), Some("a sheet that would be laid out in 16384000 cells"));
    }

    #[test]
    fn a_picture_in_a_workbook_is_no_text_and_what_is_no_archive_is_left_to_the_reader() {
        assert_eq!(too_large(&packed(&[("xl/media/image1.png", vec![7; 3_000_000])])), None);
        assert_eq!(too_large(b"PK no archive"), None);
        assert_eq!(too_large(b""), None);
    }
}
