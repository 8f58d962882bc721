//! The OpenAPI document as a page to read: plain HTML made here, no script, nothing loaded from elsewhere.
//!
//! Shows what the document says and adds nothing. Everything is escaped where it enters the page.

use crate::markup::escape;
use std::fmt::Write as _;

use serde_json::Value;

use super::problem::Kind;

/// The looks of the page.
pub const STYLE: &str = include_str!("style.css");

/// As [`escape`], with words between backticks set as code.
fn prose(raw: &str) -> String {
    let mut out = String::new();
    for (at, piece) in raw.split('`').enumerate() {
        if at % 2 == 0 {
            out.push_str(&escape(piece));
        } else {
            put(&mut out, format_args!("<code>{}</code>", escape(piece)));
        }
    }
    out
}

fn put(out: &mut String, text: std::fmt::Arguments<'_>) {
    out.write_fmt(text).expect("a String takes any text");
}

fn text<'a>(value: &'a Value, field: &str) -> &'a str {
    value[field].as_str().unwrap_or_default()
}

fn fields(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

/// The page of a document.
pub fn of(document: &Value) -> String {
    let info = &document["info"];
    let title = escape(text(info, "title"));
    let mut out = String::new();
    put(
        &mut out,
        format_args!(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
             <link rel=\"stylesheet\" href=\"/style.css\">\n</head>\n<body>\n<header>\n<h1>{title} <small>{}</small></h1>\n\
             <p>{}</p>\n<p><a href=\"/openapi.json\">This page as an OpenAPI document</a></p>\n</header>\n<main>\n",
            escape(text(info, "version")),
            prose(text(info, "description")),
        ),
    );
    contents(&mut out, document);
    let mut tag = "";
    for_each_operation(document, |path, verb, operation| {
        let own = operation["tags"][0].as_str().unwrap_or_default();
        if own != tag {
            tag = own;
            put(&mut out, format_args!("<h2>{}</h2>\n", escape(tag)));
        }
        operation_section(&mut out, document, path, verb, operation);
    });
    problems(&mut out);
    out.push_str("<h2>What the fields mean</h2>\n");
    for (name, schema) in fields(&document["components"]["schemas"]) {
        put(&mut out, format_args!("<details id=\"schema-{0}\"><summary>{0}</summary>\n", escape(name)));
        schema_body(&mut out, schema);
        out.push_str("</details>\n");
    }
    out.push_str("</main>\n</body>\n</html>\n");
    out
}

/// Calls back for every operation, those of one tag together, in the order in which tags are first met.
fn for_each_operation<'a>(document: &'a Value, mut visit: impl FnMut(&'a str, &'a str, &'a Value)) {
    let all: Vec<(&str, &str, &Value)> = fields(&document["paths"])
        .flat_map(|(path, verbs)| fields(verbs).map(move |(verb, operation)| (path.as_str(), verb.as_str(), operation)))
        .collect();
    for tag in ["Plans", "Diagrams", "Checks", "Quotes", "Orders", "Piles", "Documents", "Operation"] {
        for (path, verb, operation) in &all {
            if operation["tags"][0] == tag {
                visit(path, verb, operation);
            }
        }
    }
}

fn contents(out: &mut String, document: &Value) {
    out.push_str("<nav>\n<table>\n");
    for_each_operation(document, |path, verb, operation| {
        put(
            out,
            format_args!(
                "<tr><td><code>{} <a href=\"#{}\">{}</a></code></td><td>{}</td></tr>\n",
                escape(&verb.to_uppercase()),
                escape(text(operation, "operationId")),
                escape(path),
                prose(text(operation, "summary")),
            ),
        );
    });
    out.push_str("</table>\n</nav>\n");
}

fn operation_section(out: &mut String, document: &Value, path: &str, verb: &str, operation: &Value) {
    put(
        out,
        format_args!(
            "<section id=\"{}\">\n<h3>{}</h3>\n<p class=\"address\"><code>{} {}</code></p>\n<p>{}</p>\n",
            escape(text(operation, "operationId")),
            prose(text(operation, "summary")),
            escape(&verb.to_uppercase()),
            escape(path),
            prose(text(operation, "description")),
        ),
    );
    let parameters = operation["parameters"].as_array().map(Vec::as_slice).unwrap_or_default();
    if !parameters.is_empty() {
        out.push_str("<table>\n<tr><th>parameter</th><th>in</th><th>value</th><th>meaning</th></tr>\n");
        for parameter in parameters {
            put(
                out,
                format_args!(
                    "<tr><td><code>{}</code></td><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                    escape(text(parameter, "name")),
                    escape(text(parameter, "in")),
                    kind(&parameter["schema"]),
                    prose(text(parameter, "description")),
                ),
            );
        }
        out.push_str("</table>\n");
    }
    for (media, body) in fields(&operation["requestBody"]["content"]) {
        put(out, format_args!("<p>Body: <code>{}</code>, {}</p>\n", escape(media), kind(&body["schema"])));
        let example = match &body["example"] {
            Value::String(example) => example.clone(),
            example => format!("{example:#}"),
        };
        put(out, format_args!("<details><summary>an example</summary><pre>{}</pre></details>\n", escape(&example)));
    }
    out.push_str("<table>\n<tr><th>answer</th><th>is</th><th>as</th></tr>\n");
    for (status, answer) in fields(&operation["responses"]) {
        let target = answer["$ref"].as_str().and_then(|to| document.pointer(to.trim_start_matches('#')));
        let answer = target.unwrap_or(answer);
        let media: Vec<String> = fields(&answer["content"])
            .map(|(media, body)| format!("<code>{}</code> {}", escape(media), kind(&body["schema"])))
            .collect();
        let (about, media) = (prose(text(answer, "description")), media.join("<br>"));
        put(out, format_args!("<tr><td>{}</td><td>{about}</td><td>{media}</td></tr>\n", escape(status)));
    }
    out.push_str("</table>\n</section>\n");
}

fn problems(out: &mut String) {
    out.push_str(
        "<h2>Problems</h2>\n<p>Errors are problem documents (RFC 9457). Those of a body name every error at once, each with \
         its place as a JSON pointer.</p>\n<table>\n<tr><th>type</th><th>status</th><th>title</th></tr>\n",
    );
    for kind in Kind::ALL {
        put(
            out,
            format_args!(
                "<tr id=\"{0}\"><td><code>/#{0}</code></td><td>{1}</td><td>{2}</td></tr>\n",
                kind.code(),
                kind.status(),
                escape(kind.title())
            ),
        );
    }
    out.push_str("</table>\n");
}

/// A schema in a few words, with a link where it has a name.
fn kind(schema: &Value) -> String {
    if let Some(name) = schema["$ref"].as_str().and_then(|to| to.rsplit('/').next()) {
        return format!("<a href=\"#schema-{0}\">{0}</a>", escape(name));
    }
    if let Some(words) = schema["enum"].as_array() {
        let words: Vec<String> =
            words.iter().map(|word| format!("<code>{}</code>", escape(&word.to_string()))).collect();
        return words.join(", ");
    }
    for choice in ["oneOf", "anyOf"] {
        if let Some(choices) = schema[choice].as_array() {
            let choices: Vec<String> = choices.iter().map(kind).collect();
            return choices.join(" or ");
        }
    }
    match &schema["type"] {
        Value::String(word) if word == "array" => format!("list of {}", kind(&schema["items"])),
        Value::String(word) if word == "object" && schema["properties"].is_object() => {
            let mut inside = String::from("group");
            schema_body(&mut inside, schema);
            inside
        }
        Value::String(word) => escape(word),
        Value::Array(words) => {
            let words: Vec<String> = words.iter().filter_map(Value::as_str).map(escape).collect();
            words.join(" or ")
        }
        _ => "any".to_owned(),
    }
}

fn schema_body(out: &mut String, schema: &Value) {
    if let Some(about) = schema["description"].as_str() {
        put(out, format_args!("<p>{}</p>\n", prose(about)));
    }
    if !schema["properties"].is_object() {
        return put(out, format_args!("<p>{}</p>\n", kind(schema)));
    }
    let required = schema["required"].as_array().map(Vec::as_slice).unwrap_or_default();
    out.push_str("<table>\n<tr><th>field</th><th>value</th><th>meaning</th></tr>\n");
    for (name, field) in fields(&schema["properties"]) {
        let star = if required.iter().any(|needed| needed == name) { " (required)" } else { "" };
        let default = match &field["default"] {
            Value::Null => String::new(),
            default => {
                let about = text(field, "description");
                let ended = about.is_empty() || about.ends_with('.');
                format!("{} Default: <code>{}</code>.", if ended { "" } else { "." }, escape(&default.to_string()))
            }
        };
        // A group inside a table cell says its own meaning.
        let about = if field["properties"].is_object() { String::new() } else { prose(text(field, "description")) };
        put(
            out,
            format_args!(
                "<tr><td><code>{}</code>{star}</td><td>{}</td><td>{about}{default}</td></tr>\n",
                escape(name),
                kind(field)
            ),
        );
    }
    out.push_str("</table>\n");
}

#[cfg(test)]
mod tests {
    use super::super::openapi::document;
    use super::super::settings::Limits;
    use super::*;

    #[test]
    fn the_page_shows_every_address_and_loads_nothing_from_elsewhere() {
        let page = of(&document(&Limits::default(), false));
        for endpoint in super::super::endpoints::ALL {
            assert!(page.contains(&escape(endpoint.path)), "{}", endpoint.path);
        }
        for word in ["http://", "https://", "<script", "src=", "@import", "url("] {
            assert!(!page.contains(word) || word.starts_with("http"), "{word}");
            assert!(!STYLE.contains(word), "{word}");
        }
        assert_eq!(
            page.matches("href=\"").count(),
            page.matches("href=\"#").count() + page.matches("href=\"/").count()
        );
    }

    #[test]
    fn the_page_is_well_formed_enough_for_an_xml_parser() {
        let page = of(&document(&Limits::default(), true));
        let page = page.replace("<!DOCTYPE html>\n", "").replace("<br>", "<br/>");
        let page = page.replace("<meta charset=\"utf-8\">", "").replace("initial-scale=1\">", "initial-scale=1\"/>");
        let page = page.replace("href=\"/style.css\">", "href=\"/style.css\"/>");
        roxmltree::Document::parse(&page).unwrap();
    }

    #[test]
    fn what_a_document_says_is_escaped() {
        let mut document = document(&Limits::default(), false);
        document["info"]["description"] = "<script>alert(1)</script> `</code>`".into();
        let page = of(&document);
        assert!(!page.contains("<script>") && page.contains("<code>&lt;/code&gt;</code>"));
    }
}
