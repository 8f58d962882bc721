//! Words for pieces: which blank this is, and what a section, a strip or a setting yields.
//!
//! Only naming lives here; lengths are printed by `measure`, sentences are made where they are needed.

use super::tree::nodes_of;
use super::{Length, Node, Role};

/// What a blank counts as in a list of what is made: a part, or a layer or a stave of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Name {
    pub part: String,
    pub member: Option<&'static str>,
}

/// What a piece of a glue-up is called.
const fn member_word(layer: Option<u32>, stave: Option<u32>) -> Option<&'static str> {
    match (layer, stave) {
        (Some(_), _) => Some("layer"),
        (None, Some(_)) => Some("stave"),
        (None, None) => None,
    }
}

/// The pieces under `node`, one name a blank or leaf, in reading order.
pub(super) fn names(node: &Node<Length>) -> Vec<Name> {
    let mut names = Vec::new();
    for blank in nodes_of(node, Role::Blank) {
        if let Some(part) = &blank.part {
            names.push(Name { part: part.clone(), member: member_word(blank.layer, blank.stave) });
        }
        let leaves = blank.leaves.iter();
        names.extend(leaves.map(|l| Name { part: l.part.clone(), member: member_word(l.layer, l.stave) }));
    }
    names
}

/// `2 rail, 1 stile, 4 layers of leg, 5 staves of top`, in the order of first mention.
pub(super) fn tally(names: &[Name]) -> String {
    let mut counts: Vec<(&Name, usize)> = Vec::new();
    for name in names {
        match counts.iter_mut().find(|(seen, _)| *seen == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
        }
    }
    let one = |(name, count): (&Name, usize)| match name.member {
        None => format!("{count} {}", name.part),
        Some(member) => format!("{count} {member}{} of {}", if count == 1 { "" } else { "s" }, name.part),
    };
    counts.into_iter().map(one).collect::<Vec<_>>().join(", ")
}

/// Which blank this is: `rail 2`, `leg 1 layer 2`, `top 1 stave 3`, `slat 3 + slat 4`.
pub(super) fn label(blank: &Node<Length>) -> String {
    let one = |part: &str, copy: u32, layer: Option<u32>, stave: Option<u32>| match layer.or(stave) {
        Some(number) => format!("{part} {copy} {} {number}", member_word(layer, stave).unwrap_or_default()),
        None => format!("{part} {copy}"),
    };
    match (&blank.part, blank.copy) {
        (Some(part), Some(copy)) => one(part, copy, blank.layer, blank.stave),
        _ => blank.leaves.iter().map(|l| one(&l.part, l.copy, l.layer, l.stave)).collect::<Vec<_>>().join(" + "),
    }
}

/// Which blanks these are, copies of one part drawn together: `slat 1-5, 7 and rail 2`.
pub(super) fn labels<'a>(blanks: impl Iterator<Item = &'a Node<Length>>) -> String {
    let mut parts: Vec<(String, Vec<u32>)> = Vec::new();
    for blank in blanks {
        let (name, copy) = match (&blank.part, blank.copy, blank.layer.or(blank.stave)) {
            (Some(part), Some(copy), None) => (part.clone(), Some(copy)),
            _ => (label(blank), None),
        };
        match parts.iter_mut().find(|(seen, copies)| *seen == name && copies.is_empty() == copy.is_none()) {
            Some((_, copies)) => copies.extend(copy),
            None => parts.push((name, copy.into_iter().collect())),
        }
    }
    let one = |(name, copies): (String, Vec<u32>)| {
        if copies.is_empty() { name } else { format!("{name} {}", ranges(&copies)) }
    };
    list(&parts.into_iter().map(one).collect::<Vec<_>>())
}

/// `1-4, 7, 9-10`: ascending, each number once, runs drawn together.
pub(super) fn ranges(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let one = |run: &[u32]| match run {
        [first, .., last] => format!("{first}-{last}"),
        [only] => only.to_string(),
        [] => String::new(),
    };
    sorted.chunk_by(|a, b| a + 1 == *b).map(one).collect::<Vec<_>>().join(", ")
}

/// `C-04`, or `PLY (2)` for the second of equal pieces.
pub(super) fn stock(id: &str, copy: u32) -> String {
    if copy == 1 { id.to_owned() } else { format!("{id} ({copy})") }
}

/// `a, b and c`.
pub(super) fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
