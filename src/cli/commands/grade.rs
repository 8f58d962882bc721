//! `grade`: what grade the boards of a pile reach.

use std::io::{self, Write};

use crate::cli::args::SheetFormat;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::GradeSettings;
use crate::cli::{input, output};
use crate::draw::{self, DrawError, DrawOptions};
use crate::grade::{GradeOptions, grade_pile};

pub fn run(settings: &GradeSettings) -> Result<Ending, Failure> {
    let pile = input::read_pile(&settings.stock)?;
    let sheet = grade_pile(&pile, &GradeOptions::default());
    if let Some(folder) = &settings.drawings {
        let files =
            draw::write_grades(&sheet, &DrawOptions::defaults(pile.units), folder).map_err(|error| match error {
                DrawError::Write { path, source } => Failure::write(&path, &source),
                other => Failure::input(other),
            })?;
        // Where they are is a courtesy; the drawings are there whether or not anyone can read it.
        let _ = writeln!(io::stderr(), "{} drawings; open {}", files.len() - 1, folder.join("index.html").display());
    }
    output::print(&match settings.format {
        SheetFormat::Text => sheet.as_text(),
        SheetFormat::Json => sheet.as_json(),
        SheetFormat::Csv => sheet.as_csv(),
    })?;
    Ok(Ending::Done)
}
