//! One piece of stock as it is to be drawn: the plan's tree and cuts brought together with the pile's measurements.
//!
//! Names the pieces, gathers what is kept, tells trims from saw lines, and refuses a plan that does not fit its pile.
//! Nothing here knows where on the paper anything goes.

use super::DrawError;
use super::figures::DrawOptions;
use crate::measure::{Length, Money};
use crate::pile::{Board, Defect, Face, Pile, Rings, SheetGrain, Surfaced};
use crate::plan::{Cut, CutKind, Leaf, Node, OffcutRow, Rectangle, Role, ShopPlan, Station, StockKind, StockUse};

/// A rectangle in the stock's own coordinates.
pub(crate) type Span = Rectangle<Length>;

/// Which way the grain runs on the drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Grain {
    Along,
    Across,
    None,
}

/// A blank to be cut.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// The letter of its row in the table: one for all pieces of one part, size and note.
    pub letter: String,
    /// What stands on the picture: the letter, with the copy when the row has several.
    pub mark: String,
    /// The part's id; empty for a resawn blank.
    pub part: String,
    pub copy: u32,
    /// ` layer 2` or ` stave 3` of a glued-up part.
    pub member: String,
    /// `rail #1`, `top #1 stave 3`; of a resawn blank the names of all its leaves.
    pub name: String,
    pub at: Span,
    pub net: Option<Span>,
    /// Thickness, outward face, leaves, turned: what the maker must know beside the sizes.
    pub notes: String,
}

impl Piece {
    /// True when one row of the table serves both. A resawn blank has a row of its own.
    fn alike(&self, other: &Piece) -> bool {
        let size = |piece: &Piece| {
            let net = piece.net.unwrap_or(piece.at);
            [piece.at.length, piece.at.width, net.length, net.width]
        };
        let same = self.part == other.part
            && self.member == other.member
            && size(self) == size(other)
            && self.notes == other.notes;
        same && (!self.part.is_empty() || self.at == other.at)
    }
}

/// A leftover to be kept.
#[derive(Clone, Debug)]
pub(crate) struct Kept {
    /// `K1`, `K2`, ...
    pub mark: String,
    pub at: Span,
    pub credit: Money,
}

/// Everything a drawing of one piece of stock shows.
pub(crate) struct View<'a> {
    pub used: &'a StockUse<Length>,
    /// Place among the drawings, from 1.
    pub number: usize,
    /// Drawings in all.
    pub of: usize,
    pub length: Length,
    pub width: Length,
    /// `cherry 5/4`, `oak ply`.
    pub wood: String,
    /// Thickness and what else is known of it, in words.
    pub facts: Vec<String>,
    pub grain: Grain,
    pub defects: &'a [Defect],
    pub pieces: Vec<Piece>,
    pub kept: Vec<Kept>,
    pub sections: Vec<Span>,
    pub strips: Vec<Span>,
    /// In shop order.
    pub cuts: Vec<&'a Cut<Length>>,
    pub remarks: Vec<&'a str>,
}

/// What the pile says about a piece of stock.
struct Measured<'a> {
    length: Length,
    width: Length,
    wood: String,
    facts: Vec<String>,
    grain: Grain,
    defects: &'a [Defect],
}

impl<'a> View<'a> {
    /// The view of `plan.stock[index]`.
    ///
    /// # Errors
    /// When there is no such entry, when the pile has no such stock, or when the tree reaches beyond it.
    pub fn new(plan: &'a ShopPlan, pile: &'a Pile, options: &DrawOptions, index: usize) -> Result<View<'a>, DrawError> {
        let used = plan.stock.get(index).ok_or(DrawError::NoSuchStock { index, count: plan.stock.len() })?;
        let measured = measured(pile, used, options)?;
        let mut view = View {
            used,
            number: index + 1,
            of: super::drawings(plan),
            length: measured.length,
            width: measured.width,
            wood: measured.wood,
            facts: measured.facts,
            grain: measured.grain,
            defects: measured.defects,
            pieces: Vec::new(),
            kept: Vec::new(),
            sections: Vec::new(),
            strips: Vec::new(),
            cuts: Vec::new(),
            remarks: Vec::new(),
        };
        view.gather(plan, options, &used.tree)?;
        view.mark_pieces();
        for row in plan.offcuts.iter().filter(|row| same_stock(used, &row.stock, row.stock_copy)) {
            view.keep(span_of_row(row), row.credit.clone())?;
        }
        view.kept.sort_by_key(|kept| (kept.at.x, kept.at.y));
        for (i, kept) in view.kept.iter_mut().enumerate() {
            kept.mark = format!("K{}", i + 1);
        }
        view.cuts = plan.cuts.iter().filter(|cut| same_stock(used, &cut.stock, cut.stock_copy)).collect();
        view.cuts.sort_by_key(|cut| cut.number);
        let outside = |at: Length, limit: Length| at.is_negative() || limit < at;
        for cut in &view.cuts {
            let (along, across) = match cut.cut {
                CutKind::Cross => (view.length, view.width),
                CutKind::Rip => (view.width, view.length),
            };
            if outside(cut.at, along) || outside(cut.from_edge, across) || outside(cut.to_edge, across) {
                return Err(DrawError::OutsideStock { stock: used.id.clone(), what: format!("cut {}", cut.number) });
            }
        }
        let pull = plan.work.pull.iter().filter(|row| same_stock(used, &row.stock, row.stock_copy));
        view.remarks = pull.flat_map(|row| row.remarks.iter().map(String::as_str)).collect();
        Ok(view)
    }

    /// The pieces by rows of the table, in the order of the first of each.
    pub fn groups(&self) -> Vec<Vec<&Piece>> {
        let mut groups: Vec<Vec<&Piece>> = Vec::new();
        for piece in &self.pieces {
            match groups.iter_mut().find(|group| group[0].alike(piece)) {
                Some(group) => group.push(piece),
                None => groups.push(vec![piece]),
            }
        }
        groups
    }

    fn mark_pieces(&mut self) {
        let rows: Vec<(Piece, usize)> =
            self.groups().into_iter().map(|group| (group[0].clone(), group.len())).collect();
        for piece in &mut self.pieces {
            let row = rows.iter().position(|(first, _)| first.alike(piece)).unwrap_or_default();
            piece.letter = letters(row);
            piece.mark = piece.letter.clone();
            if rows[row].1 > 1 {
                piece.mark.push_str(&piece.copy.to_string());
            }
        }
    }

    /// False for sticks, whose edges are all alike: nothing on them is measured across.
    pub fn has_reference_edge(&self) -> bool {
        self.used.kind != StockKind::Stick
    }

    /// `2 rail, 1 stile, 3 staves of top`: what is cut from it, in the order of its pieces.
    pub fn makes(&self) -> String {
        let mut counts: Vec<((&str, Option<&str>), usize)> = Vec::new();
        let mut count = |part: &'a str, layer: Option<u32>, stave: Option<u32>| {
            let name = (part, layer.map(|_| "layer").or(stave.map(|_| "stave")));
            match counts.iter_mut().find(|(known, _)| *known == name) {
                Some((_, n)) => *n += 1,
                None => counts.push((name, 1)),
            }
        };
        visit(&self.used.tree, &mut |node| {
            if node.role == Some(Role::Blank) {
                node.part.iter().for_each(|part| count(part, node.layer, node.stave));
                node.leaves.iter().for_each(|leaf| count(&leaf.part, leaf.layer, leaf.stave));
            }
        });
        let one = |((part, member), n): &((&str, Option<&str>), usize)| match member {
            None => format!("{n} {part}"),
            Some(member) => format!("{n} {member}{} of {part}", if *n == 1 { "" } else { "s" }),
        };
        counts.iter().map(one).collect::<Vec<_>>().join(", ")
    }

    /// `C-04`, with its copy when it is not the first of its kind.
    pub fn name(&self) -> String {
        if self.used.copy > 1 { format!("{}, piece {}", self.used.id, self.used.copy) } else { self.used.id.clone() }
    }

    /// True for a cut from edge to edge of the whole piece of stock, or nearly so: one that the tape along it shows.
    pub fn spans(&self, cut: &Cut<Length>) -> bool {
        let whole = match cut.cut {
            CutKind::Cross => self.width,
            CutKind::Rip => self.length,
        };
        (cut.to_edge - cut.from_edge) * 10 >= whole * 9
    }

    /// Where to mark a cut: from the left end for a crosscut, from the reference edge for a rip. A rough crosscut is
    /// rounded to the side where waste lies.
    pub fn mark_at(&self, cut: &Cut<Length>, options: &DrawOptions) -> String {
        let kerf = cut.to - cut.at;
        if cut.cut == CutKind::Rip || self.used.tree.cut != Some(CutKind::Cross) || !self.spans(cut) {
            return options.fine(cut.at);
        }
        let spans = || self.used.tree.children.iter().map(|child| (child.x, child.x + child.length));
        let low = spans().filter(|(_, end)| *end <= cut.at).map(|(_, end)| end).max().unwrap_or(Length::ZERO);
        let high = spans().filter(|(start, _)| cut.to <= *start).map(|(start, _)| start - kerf).min();
        let high = high.unwrap_or(self.length);
        let step = if cut.station == Station::RoughCrosscut { options.rough } else { options.fine };
        options.safe_mark(cut.at, low, high, step)
    }

    fn gather(&mut self, plan: &ShopPlan, options: &DrawOptions, node: &'a Node<Length>) -> Result<(), DrawError> {
        let at = Span { x: node.x, y: node.y, length: node.length, width: node.width };
        match node.role {
            Some(Role::Blank) => {
                self.within(&at, "a blank")?;
                node.net.iter().try_for_each(|net| self.within(net, "a finished piece"))?;
                let piece = Piece {
                    letter: String::new(),
                    mark: String::new(),
                    part: node.part.clone().unwrap_or_default(),
                    copy: node.copy.unwrap_or(1),
                    member: member_words(node.layer, node.stave),
                    name: piece_name(node),
                    at,
                    net: node.net,
                    notes: piece_notes(plan, options, self.used, node),
                };
                self.pieces.push(piece);
            }
            Some(Role::Offcut) => self.keep(at, node.credit.clone().unwrap_or_default())?,
            Some(Role::Section) => {
                self.within(&at, "a section")?;
                self.sections.push(at);
            }
            Some(Role::Strip) => {
                self.within(&at, "a strip")?;
                self.strips.push(at);
            }
            None => self.within(&at, "a cut piece")?,
        }
        node.children.iter().try_for_each(|child| self.gather(plan, options, child))
    }

    /// Notes a leftover once, though the tree and the list of offcuts may both name it.
    fn keep(&mut self, at: Span, credit: Money) -> Result<(), DrawError> {
        self.within(&at, "an offcut")?;
        if self.kept.iter().all(|kept| kept.at != at) {
            self.kept.push(Kept { mark: String::new(), at, credit });
        }
        Ok(())
    }

    fn within(&self, at: &Span, what: &str) -> Result<(), DrawError> {
        let sound = !at.x.is_negative()
            && !at.y.is_negative()
            && Length::ZERO < at.length
            && Length::ZERO < at.width
            && at.x + at.length <= self.length
            && at.y + at.width <= self.width;
        if sound {
            Ok(())
        } else {
            Err(DrawError::OutsideStock { stock: self.used.id.clone(), what: what.to_string() })
        }
    }
}

/// The mark of the n-th piece: A, B, ... Z, AA, AB, ... without I and O, which read as figures.
fn letters(n: usize) -> String {
    const ALPHABET: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";
    let last = char::from(ALPHABET[n % ALPHABET.len()]);
    match n / ALPHABET.len() {
        0 => last.to_string(),
        before => format!("{}{last}", letters(before - 1)),
    }
}

fn visit<'a>(node: &'a Node<Length>, see: &mut impl FnMut(&'a Node<Length>)) {
    see(node);
    for child in &node.children {
        visit(child, see);
    }
}

fn same_stock(used: &StockUse<Length>, id: &str, copy: u32) -> bool {
    used.id == id && used.copy == copy
}

fn span_of_row(row: &OffcutRow<Length>) -> Span {
    Span { x: row.x, y: row.y, length: row.length, width: row.width }
}

fn piece_name(node: &Node<Length>) -> String {
    match &node.part {
        Some(part) => format!("{part} #{}{}", node.copy.unwrap_or(1), member_words(node.layer, node.stave)),
        None => {
            let leaf_name =
                |leaf: &Leaf<Length>| format!("{} #{}{}", leaf.part, leaf.copy, member_words(leaf.layer, leaf.stave));
            node.leaves.iter().map(leaf_name).collect::<Vec<_>>().join(" + ")
        }
    }
}

fn member_words(layer: Option<u32>, stave: Option<u32>) -> String {
    let layer = layer.map_or(String::new(), |n| format!(" layer {n}"));
    let stave = stave.map_or(String::new(), |n| format!(" stave {n}"));
    layer + &stave
}

fn piece_notes(plan: &ShopPlan, options: &DrawOptions, used: &StockUse<Length>, node: &Node<Length>) -> String {
    let mut notes = Vec::new();
    let members = plan.glueups.iter().flat_map(|glue| &glue.members);
    let member = members.filter(|m| same_stock(used, &m.stock, m.stock_copy)).find(|m| (m.x, m.y) == (node.x, node.y));
    notes.extend(member.and_then(|m| {
        let way = if m.stave.is_some() { "up" } else { "out" };
        m.face_up.map(|face| format!("{} {way}", face_word(face)))
    }));
    notes.extend(node.thickness.map(|t| format!("planed to {}", options.finest(t))));
    if node.turned {
        notes.push("turned across the sheet".to_string());
    }
    if !node.leaves.is_empty() {
        let leaves = node.leaves.iter().map(|leaf| {
            let member = member_words(leaf.layer, leaf.stave);
            format!("{} #{}{member} at {}", leaf.part, leaf.copy, options.finest(leaf.thickness))
        });
        notes.push(format!("resaw, from the top: {}", leaves.collect::<Vec<_>>().join(", ")));
    }
    notes.join("; ")
}

fn face_word(face: Face) -> &'static str {
    match face {
        Face::Top => "top face",
        Face::Bottom => "bottom face",
    }
}

fn measured<'a>(pile: &'a Pile, used: &StockUse<Length>, options: &DrawOptions) -> Result<Measured<'a>, DrawError> {
    let missing = || DrawError::NotInPile { stock: used.id.clone() };
    let thick = |t: Length| format!("{} thick", options.finest(t));
    match used.kind {
        StockKind::Board => {
            let board = pile.boards.iter().find(|board| board.id == used.id).ok_or_else(missing)?;
            let nominal = board.nominal.map(|n| format!(" {}/{}", n.numerator, n.denominator)).unwrap_or_default();
            Ok(Measured {
                length: board.length,
                width: board.width,
                wood: format!("{}{nominal}", board.species),
                facts: board_facts(board, thick(board.thickness)),
                grain: Grain::Along,
                defects: &board.defects,
            })
        }
        StockKind::Sheet => {
            let sheet = pile.sheets.iter().find(|sheet| sheet.id == used.id).ok_or_else(missing)?;
            let grain = match sheet.grain {
                SheetGrain::Length => Grain::Along,
                SheetGrain::Width => Grain::Across,
                SheetGrain::None => Grain::None,
            };
            Ok(Measured {
                length: sheet.length,
                width: sheet.width,
                wood: sheet.material.clone(),
                facts: vec![thick(sheet.thickness)],
                grain,
                defects: &[],
            })
        }
        StockKind::Stick => {
            let stick = pile.sticks.iter().find(|stick| stick.id == used.id).ok_or_else(missing)?;
            Ok(Measured {
                length: stick.length,
                width: stick.width,
                wood: stick.material.clone(),
                facts: vec![thick(stick.thickness)],
                grain: Grain::Along,
                defects: &[],
            })
        }
    }
}

fn board_facts(board: &Board, thick: String) -> Vec<String> {
    let mut facts = vec![thick];
    facts.push(
        match board.surfaced {
            Surfaced::Rough => "rough",
            Surfaced::S2s => "S2S",
            Surfaced::S4s => "S4S",
            Surfaced::Slr1e => "rough, one straight edge",
        }
        .to_string(),
    );
    facts.extend(board.grade.clone());
    facts.extend(board.rings.map(|rings| {
        match rings {
            Rings::Flat => "flat sawn",
            Rings::Rift => "rift sawn",
            Rings::Quarter => "quarter sawn",
        }
        .to_string()
    }));
    facts.extend(board.heart.map(|face| format!("heart at the {}", face_word(face))));
    facts
}
