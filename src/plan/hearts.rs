//! Which face of each stave of a panel is turned up.
//!
//! A board cups away from its heart as it dries. Where every board says on which face its heart lies, the staves alternate,
//! one heart up, the next one down, so that their cups cancel (common practice); a stave with only one clear face shows
//! that one all the same. Elsewhere every stave shows its better face.

use crate::pile::Face;

/// One stave, as far as its faces go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Turned {
    /// Faces without a defect: top, bottom.
    pub clear: [bool; 2],
    /// The face to show when nothing else matters.
    pub better: Face,
    /// The face its heart lies on, if the board states it.
    pub heart: Option<Face>,
}

/// The face of each stave that is up, in their order.
pub(super) fn faces_up(staves: &[Turned]) -> Vec<Face> {
    let Some(hearts) = staves.iter().map(|stave| stave.heart).collect::<Option<Vec<Face>>>() else {
        return staves.iter().map(|stave| stave.better).collect();
    };
    let mut up = Vec::with_capacity(staves.len());
    let mut heart_up = false;
    for (stave, heart) in staves.iter().zip(hearts) {
        let wanted = if heart_up { other(heart) } else { heart };
        let free = stave.clear[0] == stave.clear[1];
        let face = if free { wanted } else { stave.better };
        heart_up = face == heart;
        up.push(face);
    }
    up
}

const fn other(face: Face) -> Face {
    match face {
        Face::Top => Face::Bottom,
        Face::Bottom => Face::Top,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: Turned = Turned { clear: [true, true], better: Face::Top, heart: Some(Face::Top) };

    #[test]
    fn hearts_alternate_where_every_board_states_its_heart() {
        let other_heart = Turned { heart: Some(Face::Bottom), ..CLEAR };
        assert_eq!(faces_up(&[CLEAR, CLEAR, other_heart]), [Face::Top, Face::Bottom, Face::Bottom]);
    }

    #[test]
    fn the_only_clear_face_is_shown_whatever_the_heart_says_and_the_next_stave_answers_it() {
        let one = Turned { clear: [true, false], ..CLEAR };
        assert_eq!(faces_up(&[CLEAR, one, CLEAR]), [Face::Top, Face::Top, Face::Bottom]);
    }

    #[test]
    fn without_a_heart_on_every_board_each_stave_shows_its_better_face() {
        let unknown = Turned { heart: None, better: Face::Bottom, clear: [true, true] };
        assert_eq!(faces_up(&[CLEAR, unknown, CLEAR]), [Face::Top, Face::Bottom, Face::Top]);
    }
}
