//! Spreadsheets saved as text: from bytes to one tree a row.
//!
//! Finds the encoding and the delimiter, matches the header with the known columns, and turns every row that holds
//! anything into an object whose values are cells. What the cells mean is for the records to say. Decimal commas are
//! left to the shapes: only they know that a number is wanted.

use csv::{ReaderBuilder, StringRecord};

use super::fields::nearest_cure;
use super::node::{Node, shown_name, shown_text};
use super::reader::{Reader, Step};
use crate::measure::Units;
use crate::pile::{Fault, Faults};

/// A spreadsheet read so far, with the row number of each tree.
pub(crate) struct Table {
    pub(crate) reader: Reader,
    pub(crate) rows: Vec<(u64, Node)>,
    /// Nothing stands below the header.
    pub(crate) header_alone: bool,
}

/// Rows at most.
const ROW_LIMIT: usize = super::LIST_LIMIT;
/// Columns at most: no file of these kinds comes near, and each is compared with every known name.
const COLUMN_LIMIT: usize = 200;

/// Reads a spreadsheet whose columns carry the names in `known`; `hint` says what to do about a stranger, if there is
/// more to say than the nearest name.
///
/// # Errors
/// Only what makes the whole table unreadable; everything else is noted in the reader.
pub(crate) fn read_table(
    file: &str,
    bytes: &[u8],
    units: Units,
    known: &[String],
    hint: impl Fn(&str) -> Option<&'static str>,
) -> Result<Table, Faults> {
    let text = decoded(file, bytes)?;
    let Some(header_line) = text.split(['\n', '\r']).find(|line| !is_blank(line)) else {
        let cure = format!("put the column names in the first row: {}", known.join(", "));
        return Err(whole_fault(file, "", "this file is empty", &cure));
    };
    let delimiter = delimiter_of(header_line);
    let mut lines =
        ReaderBuilder::new().delimiter(delimiter).has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut records = lines.records().filter(|r| !matches!(r, Ok(record) if record.iter().all(is_blank)));
    let header = match records.next() {
        Some(Ok(record)) => record,
        _ => return Err(whole_fault(file, "", "this file is empty", "put the column names in the first row")),
    };
    if header.len() > COLUMN_LIMIT {
        let what = format!("the header has {} columns, more than {COLUMN_LIMIT}", header.len());
        return Err(whole_fault(file, "the header row", &what, "check that this is the right file"));
    }
    let columns: Vec<String> = header.iter().map(column_name).collect();
    let mut reader = Reader::csv(file, units, columns.clone(), delimiter == b',');
    let usable = check_header(&mut reader, &header, &columns, known, hint);
    let mut rows = Vec::new();
    let mut header_alone = true;
    let mut counter = RowCounter { bytes: text.as_bytes(), at: 0, row: 1 };
    for record in records {
        header_alone = false;
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                reader.fault_at(String::new(), String::new(), format!("a row cannot be read: {error}"), "save it anew");
                continue;
            }
        };
        if rows.len() == ROW_LIMIT {
            let what = format!("this file has more than {ROW_LIMIT} rows");
            reader.fault_at(String::new(), String::new(), what, "part it into several files");
            break;
        }
        let row = counter.row_at(record.position().map_or(0, csv::Position::byte));
        let node = reader.within(Step::Row(row), |reader| row_node(reader, &record, &columns, &usable));
        rows.extend(node.map(|node| (row, node)));
    }
    Ok(Table { reader, rows, header_alone })
}

/// Numbers rows as a spreadsheet does: every line counts, blank ones too.
struct RowCounter<'t> {
    bytes: &'t [u8],
    at: usize,
    row: u64,
}

impl RowCounter<'_> {
    /// The row of the record that the parser found at `byte`, where it may still stand before blank lines.
    fn row_at(&mut self, byte: u64) -> u64 {
        let start = usize::try_from(byte).unwrap_or(usize::MAX);
        while let Some(&b) = self.bytes.get(self.at) {
            if self.at >= start && !matches!(b, b'\r' | b'\n') {
                break;
            }
            let line_ends = b == b'\n' || b == b'\r' && self.bytes.get(self.at + 1) != Some(&b'\n');
            self.row += u64::from(line_ends);
            self.at += 1;
        }
        self.row
    }
}

fn is_blank(cell: &str) -> bool {
    cell.trim().is_empty()
}

fn whole_fault(file: &str, place: &str, what: &str, cure: &str) -> Faults {
    let (file, place, read) = (file.to_owned(), place.to_owned(), String::new());
    Faults::one(Fault { file, place, pointer: String::new(), read, what: what.into(), cure: cure.into() })
}

fn decoded<'t>(file: &str, bytes: &'t [u8]) -> Result<&'t str, Faults> {
    let utf16 = bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]);
    if utf16 || bytes.iter().take(1000).any(|b| *b == 0) {
        let what = "this file is not UTF-8 text but UTF-16, or no text at all";
        return Err(whole_fault(file, "", what, "save it from the spreadsheet as \"CSV UTF-8\""));
    }
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    std::str::from_utf8(bytes).map_err(|error| {
        let line = bytes[..error.valid_up_to()].iter().filter(|b| **b == b'\n').count() + 1;
        let what = "a character here is not UTF-8";
        whole_fault(file, &format!("row {line}"), what, "save it from the spreadsheet as \"CSV UTF-8\"")
    })
}

/// The mark that parts the columns: whichever of comma, semicolon and tab is most often outside quotation marks.
fn delimiter_of(header: &str) -> u8 {
    let count = |mark: char| {
        let mut quoted = false;
        let outside = |c: &char| {
            quoted ^= *c == '"';
            !quoted && *c == mark
        };
        header.chars().filter(outside).count()
    };
    let (comma, semicolon, tab) = (count(','), count(';'), count('\t'));
    if tab > comma.max(semicolon) {
        b'\t'
    } else if semicolon > comma {
        b';'
    } else {
        b','
    }
}

/// A column's name as the records know it: `Price per BF ` is `price_per_bf`.
fn column_name(header: &str) -> String {
    header.split_whitespace().collect::<Vec<_>>().join("_").to_lowercase()
}

/// Notes unknown and repeated columns; says for each column whether its cells are to be read.
fn check_header(
    reader: &mut Reader,
    header: &StringRecord,
    columns: &[String],
    known: &[String],
    hint: impl Fn(&str) -> Option<&'static str>,
) -> Vec<bool> {
    let mut usable = Vec::with_capacity(columns.len());
    for (i, (column, written)) in columns.iter().zip(header).enumerate() {
        let place = || "the header row".to_owned();
        let good = if column.is_empty() {
            false
        } else if columns[..i].contains(column) {
            let what = format!("there are two columns {}", shown_name(column));
            reader.fault_at(place(), shown_text(written), what, "leave one of them out");
            false
        } else if known.contains(column) {
            true
        } else {
            let cure = hint(column)
                .map_or_else(|| nearest_cure(column, known.iter().map(String::as_str), "columns"), str::to_owned);
            reader.fault_at(place(), shown_text(written), "this column is not known", cure);
            false
        };
        usable.push(good);
    }
    usable
}

/// A row's cells under their names; nothing, with the reason noted, when the row cannot be told from the next.
fn row_node(reader: &mut Reader, record: &StringRecord, columns: &[String], usable: &[bool]) -> Option<Node> {
    if let Some((i, cell)) = record.iter().enumerate().find(|(_, cell)| goes_on(cell)) {
        let what = match columns.get(i) {
            Some(name) => format!("the cell in column {} goes on over several lines", shown_name(name)),
            None => format!("cell {} goes on over several lines", i + 1),
        };
        reader.fault(shown_text(cell), what, "close its quotation mark, or take the line breaks out");
        return None;
    }
    let mut row = Vec::new();
    for (i, cell) in record.iter().enumerate() {
        if is_blank(cell) {
            continue;
        }
        match columns.get(i) {
            Some(name) if !name.is_empty() => {
                if usable[i] {
                    put(reader, &mut row, name, name, cell.trim());
                }
            }
            _ => {
                let what = format!("cell {} has no column name above it", i + 1);
                let cure = "name the column; a cell that holds a comma or semicolon needs quotation marks";
                reader.fault(shown_text(cell), what, cure);
            }
        }
    }
    Some(Node::Object(row))
}

/// The mark of a quotation left open: the cell has swallowed what follows.
fn goes_on(cell: &str) -> bool {
    cell.contains(['\n', '\r'])
}

/// Puts a cell under its name, one level deeper for each dot.
fn put(reader: &mut Reader, row: &mut Vec<(String, Node)>, name: &str, whole: &str, cell: &str) {
    let Some((group, rest)) = name.split_once('.') else {
        if row.iter().any(|(known, _)| known == name) {
            reader.fault(shown_text(cell), format!("`{whole}` and columns within it are both filled"), "clear one");
        } else {
            row.push((name.to_owned(), Node::Cell(cell.to_owned())));
        }
        return;
    };
    let at = row.iter().position(|(known, _)| known == group).unwrap_or_else(|| {
        row.push((group.to_owned(), Node::Object(Vec::new())));
        row.len() - 1
    });
    match &mut row[at].1 {
        Node::Object(fields) => put(reader, fields, rest, whole, cell),
        _ => reader.fault(shown_text(cell), format!("`{group}` and `{whole}` are both filled"), "clear one of them"),
    }
}
