//! Text from files made safe to stand in SVG and HTML. Imports nothing of ours; what the documents look like is their
//! writers' business.

/// The text with everything that cannot be printed, or would reorder its neighbours, replaced by U+FFFD; line breaks and
/// tabs become spaces.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            c if c.is_control() => '\u{fffd}',
            '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
            '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// Text in the place of markup, inside an element or a quoted attribute; line breaks stay.
pub(crate) fn escape(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len());
    for c in raw.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// [`clean`], then [`escape`].
pub(crate) fn safe(raw: &str) -> String {
    escape(&clean(raw))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_printed_is_marked_and_markup_is_text() {
        assert_eq!(clean("a\u{1}b\u{202e}c\nd"), "a\u{fffd}b\u{fffd}c d");
        assert_eq!(safe("<a href=\"'&\n\">"), "&lt;a href=&quot;&#39;&amp; &quot;&gt;");
        assert_eq!(escape("a\nb"), "a\nb");
    }
}
