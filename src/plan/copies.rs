//! Which copy of its part each blank becomes, which layer of a lamination, and what is glued to what.
//!
//! Copies are numbered from 1 in the order the stock is pulled, each piece of stock read in ascending x, then y, resawn
//! leaves from the top face down. Layers are assigned so that a copy's layers come from one piece of stock where that can
//! be, and the clear faces lie outwards where the part asks for clear faces. Nothing is moved or recut here.

use super::build::BuildError;
use super::case::{Case, Use};
use super::tree::{Grown, each_blank_mut, nodes_of};
use super::{GlueKind, GlueUp, Leaf, Length, Member, Node, Rectangle, Role};
use crate::job::Faces;
use crate::pile::{Board, DefectFace, Face};

/// One piece made: a blank, or one leaf of a resawn one.
struct Made {
    /// Index of its stock among the uses.
    used: usize,
    item: usize,
    /// Faces without a defect: top, bottom.
    clear: [bool; 2],
    /// Faces with sound defects only.
    sound: [bool; 2],
    /// The blank's corner.
    x: Length,
    y: Length,
}

impl Made {
    fn shows_clear(&self) -> bool {
        self.clear[0] || self.clear[1]
    }

    /// The face to turn outwards: a clear one, or else the one that leaves a sound face for the glue.
    fn face(&self) -> Face {
        if self.clear[0] || (!self.clear[1] && self.sound[1]) { Face::Top } else { Face::Bottom }
    }
}

#[derive(Clone, Copy, Default)]
struct Label {
    copy: u32,
    layer: Option<u32>,
}

/// Labels every blank of `trees` (parallel to `uses`) and returns the glue-ups, by part and copy.
pub(super) fn label(case: &Case, uses: &[Use], grown: &mut [Grown]) -> Result<Vec<GlueUp<Length>>, BuildError> {
    let pieces = pieces(case, uses, grown);
    count(case, &pieces)?;
    let mut labels = vec![Label::default(); pieces.len()];
    let mut glueups = Vec::new();
    let mut numbered = vec![0u32; case.job.parts.len()];
    for (part, next) in numbered.iter_mut().enumerate() {
        // A lamination has an item for its outer layers and one for the inner ones.
        let of_part: Vec<usize> =
            (0..pieces.len()).filter(|&p| case.milled.items[pieces[p].item].part == part).collect();
        let Some(&first) = of_part.first() else { continue };
        let item = pieces[first].item;
        if case.milled.items[item].layers <= 1 {
            for piece in of_part {
                *next += 1;
                labels[piece] = Label { copy: *next, layer: None };
            }
            continue;
        }
        for layers in laminations(case, item, &of_part, &pieces)? {
            *next += 1;
            for (at, &piece) in layers.iter().enumerate() {
                labels[piece] = Label { copy: *next, layer: Some(at as u32 + 1) };
            }
            glueups.push(glue_up(case, uses, item, *next, &layers, &pieces));
        }
    }
    glueups.sort_by_key(|g| (case.job.parts.iter().position(|p| p.id == g.part), g.copy));
    write(case, uses, grown, &mut labels.iter());
    Ok(glueups)
}

/// Every piece made, in the order of pulling, reading, and leaves.
fn pieces(case: &Case, uses: &[Use], grown: &[Grown]) -> Vec<Made> {
    let mut pieces = Vec::new();
    for (index, (used, grown)) in uses.iter().zip(grown).enumerate() {
        for (blank, &cutting) in nodes_of(&grown.tree, Role::Blank).into_iter().zip(&grown.cuttings) {
            let leaves = &case.cutting(used.class, cutting).leaves;
            for (leaf, &item) in leaves.iter().enumerate() {
                let outer = [leaf == 0, leaf + 1 == leaves.len()];
                let board = case.board(used.source);
                let clear = good_faces(case, board, blank, outer, false);
                let sound = good_faces(case, board, blank, outer, true);
                pieces.push(Made { used: index, item, clear, sound, x: blank.x, y: blank.y });
            }
        }
    }
    pieces
}

/// Which faces of a leaf show no defect (no unsound one) in its net rectangle; `outer`: is its top, its bottom a face of
/// the board.
fn good_faces(
    case: &Case,
    board: Option<&Board>,
    blank: &Node<Length>,
    outer: [bool; 2],
    sound_will_do: bool,
) -> [bool; 2] {
    let (Some(board), Some(net)) = (board, &blank.net) else {
        return [true, true];
    };
    let margins = &case.job.shop.defect;
    let mut good = [true, true];
    for defect in board.defects.iter().filter(|d| !(sound_will_do && d.sound)) {
        let grown = Rectangle {
            x: defect.x - margins.margin_length,
            y: defect.y - margins.margin_width,
            length: defect.length + margins.margin_length * 2,
            width: defect.width + margins.margin_width * 2,
        };
        if meets(&grown, net) {
            let through = defect.face == DefectFace::Through;
            good[0] &= !(through || outer[0] && defect.face == DefectFace::Top);
            good[1] &= !(through || outer[1] && defect.face == DefectFace::Bottom);
        }
    }
    good
}

/// True when the interiors meet.
pub(super) fn meets(a: &Rectangle<Length>, b: &Rectangle<Length>) -> bool {
    a.x < b.x + b.length && b.x < a.x + a.length && a.y < b.y + b.width && b.y < a.y + a.width
}

/// The layouts yield what the outcome says they yield.
fn count(case: &Case, pieces: &[Made]) -> Result<(), BuildError> {
    let mut found = vec![0u32; case.milled.items.len()];
    for piece in pieces {
        found[piece.item] += 1;
    }
    let mut of_part = vec![(0, 1); case.job.parts.len()];
    for (item, &found) in found.iter().enumerate() {
        let said = case.outcome.made[item];
        if found != said {
            return Err(BuildError::Miscounted { part: case.part_id(item).to_owned(), said, found });
        }
        let milled = &case.milled.items[item];
        of_part[milled.part].0 += found;
        of_part[milled.part].1 = milled.layers.max(1);
    }
    for (part, (pieces, layers)) in case.job.parts.iter().zip(of_part) {
        if pieces % layers != 0 {
            return Err(BuildError::LooseLayers { part: part.id.clone(), pieces, layers });
        }
    }
    Ok(())
}

/// The copies of a laminated item, each the pieces of its layers from the first to the last.
fn laminations(case: &Case, item: usize, of_item: &[usize], pieces: &[Made]) -> Result<Vec<Vec<usize>>, BuildError> {
    let layers = case.milled.items[item].layers as usize;
    let part = &case.job.parts[case.milled.items[item].part];
    let faces = match part.faces {
        Faces::C2f => 2,
        Faces::C1f => 1,
        Faces::Sound | Faces::Any => 0,
    };
    let mut copies = Vec::new();
    let mut pool = Vec::new();
    for of_stock in of_item.chunk_by(|&a, &b| pieces[a].used == pieces[b].used) {
        pool.extend(whole_copies(of_stock, layers, faces, pieces, &mut copies));
    }
    let mut rest = whole_copies(&pool, layers, faces, pieces, &mut copies);
    if !rest.is_empty() {
        // Keeping to one board spent clear faces that another board's layers needed.
        copies.clear();
        rest = whole_copies(of_item, layers, faces, pieces, &mut copies);
    }
    if !rest.is_empty() {
        return Err(BuildError::UnclearLayers { part: part.id.clone() });
    }
    copies.sort_by_key(|copy| copy.iter().copied().min());
    Ok(copies)
}

/// Takes as many whole copies as `available` holds into `copies`; what is left over, in order.
fn whole_copies(
    available: &[usize],
    layers: usize,
    faces: usize,
    pieces: &[Made],
    copies: &mut Vec<Vec<usize>>,
) -> Vec<usize> {
    let (mut clear, mut other): (Vec<usize>, Vec<usize>) =
        available.iter().partition(|&&piece| pieces[piece].shows_clear());
    let by_faces = clear.len().checked_div(faces).unwrap_or(usize::MAX);
    let whole = by_faces.min(available.len() / layers);
    let mut inner = clear.split_off(whole * faces);
    let fill = whole * (layers - faces);
    // Layers that need not be clear come first from those that are not.
    let spare = other.split_off(fill.min(other.len()));
    let borrowed = inner.split_off((fill - other.len()).min(inner.len()));
    other.append(&mut inner);
    other.sort_unstable();
    for at in 0..whole {
        let mut copy = clear[at * faces..at * faces + faces.min(1)].to_vec();
        copy.extend(&other[at * (layers - faces)..(at + 1) * (layers - faces)]);
        copy.extend(&clear[at * faces + faces.min(1)..(at + 1) * faces]);
        copies.push(copy);
    }
    let mut left: Vec<usize> = spare.into_iter().chain(borrowed).collect();
    left.sort_unstable();
    left
}

fn glue_up(case: &Case, uses: &[Use], item: usize, copy: u32, layers: &[usize], pieces: &[Made]) -> GlueUp<Length> {
    let member = |(at, &piece): (usize, &usize)| {
        let made = &pieces[piece];
        let used = &uses[made.used];
        let outer = at == 0 || at + 1 == layers.len();
        Member {
            stock: case.piece(used.source).id.to_owned(),
            stock_copy: used.copy,
            x: made.x,
            y: made.y,
            stave: None,
            layer: Some(at as u32 + 1),
            net_width: None,
            face_up: outer.then(|| made.face()),
        }
    };
    GlueUp {
        part: case.part_id(item).to_owned(),
        copy,
        kind: GlueKind::Lamination,
        members: layers.iter().enumerate().map(member).collect(),
    }
}

/// Writes the labels, in the order of `pieces`, into the trees.
fn write(case: &Case, uses: &[Use], grown: &mut [Grown], labels: &mut dyn Iterator<Item = &Label>) {
    for (used, grown) in uses.iter().zip(grown) {
        let mut cuttings = grown.cuttings.iter();
        each_blank_mut(&mut grown.tree, &mut |blank| {
            let cutting = *cuttings.next().expect("every blank has its cutting");
            let leaves = &case.cutting(used.class, cutting).leaves;
            let leaves: Vec<Leaf<Length>> = leaves
                .iter()
                .map(|&item| {
                    let label = labels.next().expect("every piece has its label");
                    Leaf {
                        part: case.part_id(item).to_owned(),
                        copy: label.copy,
                        layer: label.layer,
                        stave: None,
                        thickness: case.milled.items[item].thickness,
                    }
                })
                .collect();
            write_blank(blank, leaves);
        });
    }
}

fn write_blank(blank: &mut Node<Length>, mut leaves: Vec<Leaf<Length>>) {
    if leaves.len() > 1 {
        blank.leaves = leaves;
        return;
    }
    if let Some(only) = leaves.pop() {
        blank.thickness = only.layer.map(|_| only.thickness);
        blank.part = Some(only.part);
        blank.copy = Some(only.copy);
        blank.layer = only.layer;
    }
}
