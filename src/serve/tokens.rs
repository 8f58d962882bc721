//! Who may come in: the token file, and the comparison that gives nothing away.
//!
//! A line of the file is a space's name and a token; `#` begins a comment. Plans belong to a space, so that a shop may
//! change its token, or have two, and still find its plans. Tokens are kept and compared as digests only.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use sha2::{Digest, Sha256};
use subtle::{Choice, ConditionallySelectable, ConstantTimeEq};

/// Characters a token must have at least: 128 bits, were it random text of 5 bits a character.
const SHORTEST: usize = 26;
const LONGEST: usize = 512;

/// Whose plans a request may see.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Space(pub Arc<str>);

impl Space {
    /// The one space of a service without tokens.
    pub fn local() -> Space {
        Space("local".into())
    }
}

/// The tokens that open the service.
#[derive(Clone)]
pub struct Tokens(Vec<(Space, [u8; 32])>);

/// Why a token file is of no use.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TokenError {
    #[error("cannot read the token file {}: {source}", path.display())]
    Read { path: PathBuf, source: std::io::Error },
    #[error("{}, line {line}: {what}", path.display())]
    Line { path: PathBuf, line: usize, what: &'static str },
    #[error("{} holds no token; write a space's name and a token on a line", path.display())]
    Empty { path: PathBuf },
}

impl Tokens {
    /// Reads a token file.
    ///
    /// # Errors
    /// When it cannot be read, holds no token, or a line is not a name and a token of good length.
    pub fn read(path: &Path) -> Result<Tokens, TokenError> {
        let text = fs::read_to_string(path).map_err(|source| TokenError::Read { path: path.to_owned(), source })?;
        let mut tokens: Vec<(Space, [u8; 32])> = Vec::new();
        for (at, line) in text.lines().enumerate() {
            let wrong = |what| TokenError::Line { path: path.to_owned(), line: at + 1, what };
            let words: Vec<&str> = line.split('#').next().unwrap_or_default().split_whitespace().collect();
            match words[..] {
                [] => {}
                [name, token] => {
                    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
                    if name.len() > 40 || !name.chars().all(plain) {
                        return Err(wrong("a space's name has up to 40 letters, digits, hyphens and underscores"));
                    }
                    if token.len() < SHORTEST || token.len() > LONGEST {
                        return Err(wrong("a token has 26 to 512 characters; `openssl rand -hex 32` makes one"));
                    }
                    let digest = digest(token);
                    if tokens.iter().any(|(_, known)| *known == digest) {
                        return Err(wrong("this token is there already"));
                    }
                    tokens.push((Space(name.into()), digest));
                }
                _ => return Err(wrong("write a space's name and a token, nothing else")),
            }
        }
        if tokens.is_empty() { Err(TokenError::Empty { path: path.to_owned() }) } else { Ok(Tokens(tokens)) }
    }

    /// The space a token opens. Takes as long whatever the token, and whichever it matches.
    pub fn space_of(&self, token: &str) -> Option<Space> {
        let given = digest(token);
        let mut found = 0_u32;
        for (at, (_, known)) in (1..).zip(&self.0) {
            let same: Choice = given.ct_eq(known);
            found.conditional_assign(&at, same);
        }
        found.checked_sub(1).map(|at| self.0[at as usize].0.clone())
    }
}

impl std::fmt::Debug for Tokens {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} tokens", self.0.len())
    }
}

fn digest(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NORTH: &str = "north-0123456789abcdef0123456789";
    const SOUTH: &str = "south-0123456789abcdef0123456789";

    fn read(text: &str) -> Result<Tokens, TokenError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("tokens");
        fs::write(&path, text).unwrap();
        Tokens::read(&path)
    }

    #[test]
    fn each_token_opens_its_own_space_and_nothing_else_opens_any() {
        let tokens = read(&format!("# shops\nnorth {NORTH}\n\nsouth {SOUTH} # the new one\n")).unwrap();
        assert_eq!(tokens.space_of(NORTH), Some(Space("north".into())));
        assert_eq!(tokens.space_of(SOUTH), Some(Space("south".into())));
        for stranger in ["", "north", &NORTH[1..], &format!("{NORTH} ")] {
            assert_eq!(tokens.space_of(stranger), None, "{stranger:?}");
        }
    }

    #[test]
    fn a_file_that_would_let_nobody_or_anybody_in_is_refused() {
        assert!(matches!(read("# none\n"), Err(TokenError::Empty { .. })));
        for line in ["north short", "north", "no/rth 0123456789abcdef0123456789", "a b c"] {
            assert!(matches!(read(line), Err(TokenError::Line { line: 1, .. })), "{line}");
        }
        assert!(matches!(read(&format!("a {NORTH}\nb {NORTH}\n")), Err(TokenError::Line { line: 2, .. })));
    }

    #[test]
    fn tokens_are_not_printed() {
        assert_eq!(format!("{:?}", read(&format!("north {NORTH}")).unwrap()), "1 tokens");
    }
}
