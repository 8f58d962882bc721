//! How the words of files compare: without case and without extra spaces.
//!
//! Species, materials, grades, groups and the fixed words of the contract all go through here; ids do not, they are
//! taken as written. What a word means is known where it is used.

/// The form in which words are compared: lower case, one space between words, none at the ends.
///
/// ```
/// assert_eq!(flitchwork::pile::normal_words("  Red   OAK "), "red oak");
/// ```
pub fn normal_words(text: &str) -> String {
    let mut normal = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !normal.is_empty() {
            normal.push(' ');
        }
        normal.extend(word.chars().flat_map(char::to_lowercase));
    }
    normal
}

/// True when two names mean the same: they differ at most in case and in spaces around and between words.
///
/// ```
/// use flitchwork::pile::same_words;
/// assert!(same_words("Red Oak", " red  oak"));
/// assert!(!same_words("redoak", "red oak"));
/// ```
pub fn same_words(a: &str, b: &str) -> bool {
    a == b || normal_words(a) == normal_words(b)
}
