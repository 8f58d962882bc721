//! `schema`: the JSON Schema of a file, made from the definitions that read it.

use crate::cli::args::FileKind;
use crate::cli::failure::{Ending, Failure};
use crate::cli::output;
use crate::{job, pile, plan, quote};

pub fn run(kind: FileKind) -> Result<Ending, Failure> {
    let schema = match kind {
        FileKind::Pile => pile::file::schema(),
        FileKind::Job => job::file::schema(),
        FileKind::Shop => job::file::shop_schema(),
        FileKind::Plan => plan::file::schema(),
        FileKind::Quote => quote::file::schema(),
    };
    output::print(&format!("{schema:#}\n"))?;
    Ok(Ending::Done)
}
