//! The work by machine: what to pull from the pile, what is planed together.
//!
//! The lists of cuts (rough crosscuts, rips, final crosscuts, sticks) come from `cuts`; this puts the pull list and the planer
//! batches beside them. Pieces of one species that end at one thickness are planed together, thickest first, so that the
//! planer is set once for each.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::case::{Case, Use};
use super::scarcity::Scarcity;
use super::tree::Grown;
use super::{Length, PlanerBatch, PullRow, StockKind, say};

/// What to pull, in the order of the pile.
pub(super) fn pull(case: &Case, uses: &[Use], grown: &[Grown], scarcity: &Scarcity) -> Vec<PullRow<Length>> {
    let row = |(used, grown): (&Use, &Grown)| {
        let piece = case.piece(used.source);
        let names = say::names(&grown.tree);
        PullRow {
            stock: piece.id.to_owned(),
            stock_copy: used.copy,
            kind: piece.kind,
            wood: piece.wood.to_owned(),
            thickness: piece.thickness,
            width: piece.width,
            length: piece.length,
            makes: say::tally(&names),
            remarks: if piece.kind == StockKind::Board { only_board(case, &names, scarcity) } else { Vec::new() },
        }
    };
    uses.iter().zip(grown).map(row).collect()
}

/// `no second board can make "apron"`, for each part of which this is true, in the order of the job.
fn only_board(case: &Case, names: &[say::Name], scarcity: &Scarcity) -> Vec<String> {
    let parts = case.job.parts.iter().enumerate();
    let only =
        parts.filter(|(index, part)| scarcity.boards(*index) == 1 && names.iter().any(|name| name.part == part.id));
    only.map(|(_, part)| format!("no second board can make \"{}\"", part.id)).collect()
}

/// A batch and the parts in it, by their index in the job.
type Batch = (PlanerBatch<Length>, Vec<usize>);

/// What is planed together: one batch a thickness and species, the thickest first, then by species.
pub(super) fn planer(case: &Case, uses: &[Use], grown: &[Grown]) -> Vec<PlanerBatch<Length>> {
    let mut batches: BTreeMap<(Reverse<Length>, String), Batch> = BTreeMap::new();
    for (used, grown) in uses.iter().zip(grown) {
        let wood = case.piece(used.source).wood;
        for &cutting in &grown.cuttings {
            let cutting = case.cutting(used.class, cutting);
            for &item in cutting.leaves.iter().filter(|_| cutting.planed) {
                let milled = &case.milled.items[item];
                let key = (Reverse(milled.thickness), plain_words(wood));
                let (batch, parts) = batches.entry(key).or_insert_with(|| {
                    let wood = wood.to_owned();
                    (PlanerBatch { thickness: milled.thickness, wood, parts: Vec::new(), blanks: 0 }, Vec::new())
                });
                batch.blanks += 1;
                parts.push(milled.part);
            }
        }
    }
    let finish = |(mut batch, mut parts): Batch| {
        parts.sort_unstable();
        parts.dedup();
        batch.parts = parts.into_iter().map(|part| case.job.parts[part].id.clone()).collect();
        batch
    };
    batches.into_values().map(finish).collect()
}

/// A word without case or extra spaces, as words of the files compare.
fn plain_words(text: &str) -> String {
    text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}
