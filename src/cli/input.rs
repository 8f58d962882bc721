//! The files a command names, read whole: JSON or CSV by what is in them, faults turned into findings.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use crate::job::file::ShopFile;
use crate::job::{self, Job};
use crate::pile::{self, Faults, Pile};
use crate::plan::{self, ShopPlan};

use super::failure::Failure;
use super::settings::{JobFiles, StockFiles};

/// The largest file that is read, bytes: fifty times the largest sample, far below what would fill a machine.
const LARGEST: u64 = 64 << 20;

/// The pile, with the defects of a file of their own added.
pub fn read_pile(files: &StockFiles) -> Result<Pile, Failure> {
    let (name, bytes) = open(&files.pile)?;
    let mut pile = if is_json(&files.pile, &bytes) {
        pile::file::read_json(&name, as_text(&name, &bytes)?)
    } else {
        pile::file::read_csv(&name, &bytes, files.units)
    }
    .map_err(findings)?;
    if let Some(path) = &files.defects {
        let (name, bytes) = open(path)?;
        pile::file::read_defects_csv(&name, &bytes, files.units, &mut pile).map_err(findings)?;
    }
    Ok(pile)
}

/// The job, under the shop profile given.
pub fn read_job(files: &JobFiles) -> Result<Job, Failure> {
    let shop = files.shop.as_deref().map(read_shop).transpose()?;
    let (name, bytes) = open(&files.job)?;
    if is_json(&files.job, &bytes) {
        job::file::read_json(&name, as_text(&name, &bytes)?, shop.as_ref())
    } else {
        job::file::read_csv(&name, &bytes, files.units, shop.as_ref())
    }
    .map_err(findings)
}

fn read_shop(path: &Path) -> Result<ShopFile, Failure> {
    let (name, bytes) = open(path)?;
    job::file::read_shop(&name, as_text(&name, &bytes)?).map_err(findings)
}

/// A plan.
pub fn read_plan(path: &Path) -> Result<ShopPlan, Failure> {
    let (name, bytes) = open(path)?;
    plan::file::read_json(&name, as_text(&name, &bytes)?).map_err(Failure::input)
}

/// The name used in messages, and the contents.
fn open(path: &Path) -> Result<(String, Vec<u8>), Failure> {
    let name = path.display().to_string();
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes));
    match read {
        Err(error) => Err(Failure::Io(format!(
            "cannot read {name}: {error}; give the path of a file that is there and may be read"
        ))),
        Ok(size) if size as u64 > LARGEST => {
            let megabytes = LARGEST >> 20;
            Err(Failure::input(format!(
                "{name} has more than {megabytes} MB; a job, a pile or a plan has a few at most"
            )))
        }
        Ok(_) => Ok((name, bytes)),
    }
}

/// True for JSON: an object or a list is opened first, or the name says so.
fn is_json(path: &Path, bytes: &[u8]) -> bool {
    let body = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let first = body.iter().find(|byte| !byte.is_ascii_whitespace());
    matches!(first, Some(b'{' | b'[')) || path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"))
}

/// The text of a JSON file, without the mark some programs put before it.
fn as_text<'a>(name: &str, bytes: &'a [u8]) -> Result<&'a str, Failure> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        Failure::input(format!("{name}: byte {at} is not UTF-8 text; save the file as UTF-8"))
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

fn findings(faults: Faults) -> Failure {
    Failure::Input(faults.iter().map(ToString::to_string).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_is_known_by_what_is_in_it_or_by_its_name() {
        let csv = Path::new("pile.csv");
        assert!(is_json(csv, b"\xef\xbb\xbf \n{ }"));
        assert!(is_json(csv, b"[1]"));
        assert!(is_json(Path::new("pile.JSON"), b"id,width"));
        assert!(!is_json(csv, b"id,width\n"));
        assert!(!is_json(csv, b""));
    }

    #[test]
    fn text_before_the_first_brace_may_be_a_byte_order_mark_only() {
        assert_eq!(as_text("f", b"\xef\xbb\xbf{}"), Ok("{}"));
        assert_eq!(as_text("f", b"\xff{}").unwrap_err().code(), 2);
    }

    #[cfg(unix)]
    #[test]
    fn a_file_without_an_end_is_refused() {
        let failure = open(Path::new("/dev/zero")).unwrap_err();
        assert!(failure.to_string().contains("more than 64 MB"), "{failure}");
    }
}
