//! The client's page as one HTML file that loads nothing from elsewhere. All text from files is escaped.

use std::fmt::Write;

use super::page::{Block, Page};
use crate::markup::safe;
use crate::measure::Units;

/// The page as HTML.
pub fn as_html(page: &Page) -> String {
    let blocks: String = page.blocks.iter().map(block).collect();
    let title = safe(&page.title);
    let paper = match page.units {
        Units::Inches => "letter",
        Units::Millimetres => "A4",
    };
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
         <style>\n@page {{ size: {paper}; margin: 20mm; }}\n{STYLE}</style>\n</head>\n<body>\n{blocks}</body>\n</html>\n"
    )
}

const STYLE: &str = "\
body { margin: 3rem auto; max-width: 42rem; padding: 0 1.2rem; font: 1rem/1.45 Georgia, 'DejaVu Serif', serif; color: #24211d; \
background: #fff; }
address { font-style: normal; text-align: right; color: #6f675b; margin-bottom: 3rem; }
address span { display: block; }
address span:first-child { color: #24211d; font-weight: bold; }
.kind { color: #1b4a86; letter-spacing: .04em; margin: 0; }
h1 { font-size: 1.9rem; line-height: 1.2; font-weight: normal; margin: 0 0 1.4rem; }
h2 { font-size: 1.05rem; font-weight: normal; color: #1b4a86; margin: 2.2rem 0 .3rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1.4rem; margin: 0; }
dt { color: #6f675b; }
dd { margin: 0; overflow-wrap: anywhere; }
table { width: 100%; border-collapse: collapse; }
th, td { font-weight: normal; text-align: left; vertical-align: top; padding: .4rem 0; border-bottom: 1px solid #d9d3c7; \
overflow-wrap: anywhere; }
td { text-align: right; white-space: nowrap; padding-left: 1.5rem; font-variant-numeric: lining-nums tabular-nums; }
tfoot th, tfoot td { border-bottom: 0; }
tfoot tr:first-child > * { border-top: 2px solid #24211d; }
tfoot tr:last-child > * { font-weight: bold; font-size: 1.15rem; }
.warning { border: 2px solid #9c2f22; color: #9c2f22; padding: .7rem 1rem; margin: 1.6rem 0 0; font-weight: bold; }
.term { color: #4a453d; font-size: .92rem; margin: 1.4rem 0 0; overflow-wrap: anywhere; }
.sign { display: flex; gap: 3rem; margin-top: 4.5rem; break-inside: avoid; }
.sign span { flex: 2; border-top: 1px solid #24211d; padding-top: .3rem; color: #6f675b; font-size: .92rem; }
.sign span:last-child { flex: 1; }
tr, .warning { break-inside: avoid; }
h2 { break-after: avoid; }
@media print { body { margin: 0; max-width: none; padding: 0; font-size: 11pt; } }
";

fn block(block: &Block) -> String {
    match block {
        Block::Letterhead(lines) => {
            let lines: String = lines.iter().map(|line| format!("<span>{}</span>", safe(line))).collect();
            format!("<address>{lines}</address>\n")
        }
        Block::Title { kind, title } => {
            format!("<p class=\"kind\">{}</p>\n<h1>{}</h1>\n", safe(kind), safe(title))
        }
        Block::Facts(facts) => {
            let facts: String =
                facts.iter().map(|(name, fact)| format!("<dt>{}</dt><dd>{}</dd>\n", safe(name), safe(fact))).collect();
            format!("<dl>\n{facts}</dl>\n")
        }
        Block::Warning(words) => format!("<p class=\"warning\">{}</p>\n", safe(words)),
        Block::Prices { heading, lines, sums } => prices(heading, lines, sums),
        Block::Term(words) => format!("<p class=\"term\">{}</p>\n", safe(words)),
        Block::Signature(lines) => {
            let lines: String = lines.iter().map(|line| format!("<span>{}</span>", safe(line))).collect();
            format!("<div class=\"sign\">{lines}</div>\n")
        }
    }
}

fn prices(heading: &str, lines: &[(String, String)], sums: &[(String, String)]) -> String {
    let row = |(what, price): &(String, String)| {
        format!("<tr><th scope=\"row\">{}</th><td>{}</td></tr>\n", safe(what), safe(price))
    };
    let mut text = format!("<h2>{}</h2>\n<table>\n<tbody>\n", safe(heading));
    text.extend(lines.iter().map(row));
    text.push_str("</tbody>\n");
    if !sums.is_empty() {
        let sums: String = sums.iter().map(row).collect();
        write!(text, "<tfoot>\n{sums}</tfoot>\n").expect("a string takes any text");
    }
    text.push_str("</table>\n");
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_from_files_cannot_become_markup() {
        let evil = "<script>alert('\"&')</script>\u{202e}".to_owned();
        let pair = (evil.clone(), evil.clone());
        let page = Page {
            title: evil.clone(),
            units: Units::Inches,
            blocks: vec![
                Block::Letterhead(vec![evil.clone()]),
                Block::Title { kind: evil.clone(), title: evil.clone() },
                Block::Facts(vec![pair.clone()]),
                Block::Warning(evil.clone()),
                Block::Prices { heading: evil.clone(), lines: vec![pair.clone()], sums: vec![pair] },
                Block::Term(evil.clone()),
                Block::Signature(vec![evil]),
            ],
        };
        let html = as_html(&page);
        assert!(!html.contains("<script") && !html.contains('\u{202e}'));
        assert_eq!(html.matches("&lt;script&gt;alert(&#39;&quot;&amp;&#39;)&lt;/script&gt;\u{fffd}").count(), 14);
    }
}
