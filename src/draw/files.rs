//! The drawings as files in a folder, and the page that lists them.
//!
//! Names are made of the drawing's number and what is safe of the stock's id, so no id can reach outside the folder or
//! take another drawing's place. A file appears whole or not at all: it is written beside its place and moved in.

use std::fs;
use std::path::{Path, PathBuf};

use super::figures::DrawOptions;
use super::svg;
use super::{DrawError, grade_drawing, overview_svg, panel_drawings, stock_svg};
use crate::grade::GradeSheet;
use crate::markup::safe;
use crate::pile::Pile;
use crate::plan::ShopPlan;

/// Longest part of an id that goes into a file name.
const LONGEST_ID: usize = 40;

/// Writes the overview, one drawing for each piece of stock and for each panel, and a page that lists them, into `dir`, which is made when
/// it is not there. Nothing is written when any drawing fails. Returns the files written, the page last.
///
/// # Errors
/// As [`stock_svg`], or when the folder or a file cannot be written.
pub fn write_all(plan: &ShopPlan, pile: &Pile, options: &DrawOptions, dir: &Path) -> Result<Vec<PathBuf>, DrawError> {
    let mut files = vec![("00-overview.svg".to_string(), overview_svg(plan, pile, options)?)];
    for (index, used) in plan.stock.iter().enumerate() {
        files.push((file_name(index + 1, &used.id, used.copy), stock_svg(plan, pile, options, index)?));
    }
    let mut names = vec!["Overview".to_string()];
    names.extend(plan.stock.iter().map(|used| titled(&used.id, used.copy)));
    for (part, copy, drawing) in panel_drawings(plan, options)? {
        files.push((file_name(files.len(), &part, copy), svg::write(&drawing)));
        names.push(format!("Panel {part}, copy {copy}"));
    }
    let title = if plan.title.trim().is_empty() { "Cut plan" } else { &plan.title };
    put_all(title, &names, files, dir)
}

/// Writes one drawing for each graded board, and a page that lists them, into `dir`, which is made when it is not there.
/// Returns the files written, the page last.
///
/// # Errors
/// As [`grade_drawing`], or when the folder or a file cannot be written.
pub fn write_grades(sheet: &GradeSheet, options: &DrawOptions, dir: &Path) -> Result<Vec<PathBuf>, DrawError> {
    let (mut files, mut names) = (Vec::new(), Vec::new());
    for (index, graded) in sheet.graded.iter().enumerate() {
        let drawing = grade_drawing(sheet, graded, options)?;
        files.push((file_name(index + 1, &sheet.line(graded).id, 1), svg::write(&drawing)));
        names.push(drawing.description);
    }
    put_all("Grades", &names, files, dir)
}

/// Writes drawings and the page that lists them by their names.
fn put_all(
    title: &str,
    names: &[String],
    mut files: Vec<(String, String)>,
    dir: &Path,
) -> Result<Vec<PathBuf>, DrawError> {
    files.push(("index.html".to_string(), index_page(title, names, &files)));
    fs::create_dir_all(dir).map_err(|source| DrawError::Write { path: dir.to_path_buf(), source })?;
    files.into_iter().map(|(name, text)| put(&dir.join(name), &text)).collect()
}

/// `01-C-04.svg`, `05-PLY-18-2.svg`: the number keeps names apart, the id is for people.
fn file_name(number: usize, id: &str, copy: u32) -> String {
    let mut safe = String::new();
    for c in id.chars() {
        if c.is_ascii_alphanumeric() || c == '_' {
            safe.push(c);
        } else if !safe.ends_with('-') {
            safe.push('-');
        }
        if safe.len() >= LONGEST_ID {
            break;
        }
    }
    let safe = safe.trim_matches('-');
    let safe = if safe.is_empty() { "stock" } else { safe };
    let copy = if copy > 1 { format!("-{copy}") } else { String::new() };
    format!("{number:02}-{safe}{copy}.svg")
}

/// Writes beside the file and renames, so that a link standing at its place is replaced and never followed.
fn put(path: &Path, text: &str) -> Result<PathBuf, DrawError> {
    let failed = |source| DrawError::Write { path: path.to_path_buf(), source };
    let mut beside = path.as_os_str().to_owned();
    beside.push(".new");
    let beside = PathBuf::from(beside);
    match fs::remove_file(&beside) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(failed(error)),
        _ => {}
    }
    let mut file = fs::File::create_new(&beside).map_err(failed)?;
    std::io::Write::write_all(&mut file, text.as_bytes()).map_err(failed)?;
    fs::rename(&beside, path).map_err(failed)?;
    Ok(path.to_path_buf())
}

/// `PLY-18, piece 2`.
fn titled(id: &str, copy: u32) -> String {
    if copy > 1 { format!("{id}, piece {copy}") } else { id.to_owned() }
}

fn index_page(title: &str, names: &[String], drawings: &[(String, String)]) -> String {
    let title = safe(title);
    let entries: String = names
        .iter()
        .zip(drawings)
        .map(|(id, (file, _))| {
            let id = safe(id);
            format!(
                "<figure>\n<figcaption><a href=\"{file}\">{id}</a></figcaption>\n\
                 <img src=\"{file}\" alt=\"Drawing: {id}\">\n</figure>\n"
            )
        })
        .collect();
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}: drawings</title>\n\
         <style>\nbody {{ margin: 2rem auto; max-width: 72rem; padding: 0 1rem; font-family: sans-serif; \
         color: #24211d; background: #f4ecdc; }}\na {{ color: #1b4a86; }}\nfigure {{ margin: 0 0 2rem; }}\n\
         figcaption {{ margin-bottom: .4rem; font-weight: bold; }}\n\
         img {{ width: 100%; height: auto; border: 1px solid #6f675b; }}\n\
         @page {{ size: landscape; margin: 7mm; }}\n\
         @media print {{ body {{ margin: 0; max-width: none; padding: 0; background: none; }} h1, figcaption {{ \
         display: none; }} figure {{ margin: 0; }} figure + figure {{ break-before: page; }} img {{ display: block; \
         width: 265mm; border: 0; }} }}\n</style>\n</head>\n\
         <body>\n<h1>{title}</h1>\n{entries}</body>\n</html>\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case::plain(1, "C-04", 1, "01-C-04.svg")]
    #[case::second_copy(5, "PLY-18", 2, "05-PLY-18-2.svg")]
    #[case::climbing_out(2, "../../etc/passwd", 1, "02-etc-passwd.svg")]
    #[case::rooted(3, "/tmp/x", 1, "03-tmp-x.svg")]
    #[case::windows(4, "C:\\con|nul", 1, "04-C-con-nul.svg")]
    #[case::nothing_left(6, "\u{6728}..\0", 1, "06-stock.svg")]
    #[case::many(123, "b", 1, "123-b.svg")]
    fn a_file_name_holds_only_what_is_safe_of_the_id(
        #[case] number: usize,
        #[case] id: &str,
        #[case] copy: u32,
        #[case] name: &str,
    ) {
        assert_eq!(file_name(number, id, copy), name);
    }

    #[test]
    fn a_long_id_is_shortened_in_the_file_name() {
        assert!(file_name(1, &"x".repeat(5000), 1).len() < 60);
    }
}
