//! The OpenAPI 3.1 document: made from the endpoints, the types of the answers, and the published schemas of the files.
//!
//! Nothing is written twice: answers are described by the types that are serialised, jobs, piles, shops, plans and quotes by the
//! schemas that `flitchwork schema` prints.

use schemars::JsonSchema;
use schemars::generate::{SchemaGenerator, SchemaSettings};
use serde_json::{Map, Value, json};

use super::body::Media;
use super::endpoints::{ALL, Verb};
use super::problem::{Kind, MEDIA, Problem};
use super::settings::Limits;
use crate::{job, pile, plan, quote};

const SCHEMAS: &str = "#/components/schemas/";

/// The schemas named so far.
pub struct Schemas {
    /// Types of answers: a field that is always written is required.
    given: SchemaGenerator,
    /// Types of bodies: a field with a default may be left out.
    taken: SchemaGenerator,
    files: Map<String, Value>,
    limits: Limits,
}

impl Schemas {
    /// The schemas of the files, with the service's own limits on them.
    pub fn new(limits: &Limits) -> Schemas {
        let settings = SchemaSettings::draft2020_12().with(|settings| {
            settings.definitions_path = "/components/schemas".into();
            settings.meta_schema = None;
        });
        let taken = settings.clone().for_deserialize().into_generator();
        let given = settings.for_serialize().into_generator();
        let mut schemas = Schemas { given, taken, files: Map::new(), limits: limits.clone() };
        let mut job = job::file::schema();
        job["properties"]["parts"]["maxItems"] = limits.parts.into();
        let mut pile = pile::file::schema();
        for lines in ["boards", "sheets", "sticks"] {
            pile["properties"][lines]["maxItems"] = limits.lines.into();
        }
        schemas.file("Job", job);
        schemas.file("Pile", pile);
        schemas.file("Shop", job::file::shop_schema());
        schemas.file("Plan", plan::file::schema());
        schemas.file("Quote", quote::file::schema());
        schemas
    }

    /// Takes up the schema of a file; what it defines inside itself is lifted out under its name.
    fn file(&mut self, name: &str, mut schema: Value) {
        let inner = schema.as_object_mut().and_then(|schema| {
            schema.remove("$schema");
            schema.remove("$defs")
        });
        lift(&mut schema, name);
        self.files.insert(name.to_owned(), schema);
        if let Some(Value::Object(inner)) = inner {
            for (part, mut schema) in inner {
                lift(&mut schema, name);
                self.files.insert(format!("{name}.{part}"), schema);
            }
        }
    }

    /// A reference to the schema of an answer.
    pub fn of<T: JsonSchema>(&mut self) -> Value {
        self.given.subschema_for::<T>().to_value()
    }

    /// A reference to the schema of what a body holds; no type is both taken and given, their schemas share the names.
    pub fn taken<T: JsonSchema>(&mut self) -> Value {
        self.taken.subschema_for::<T>().to_value()
    }

    /// What the service takes.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    fn into_map(mut self) -> Map<String, Value> {
        let mut all = self.files;
        all.extend(self.given.take_definitions(true));
        all.extend(self.taken.take_definitions(true));
        if let Some(search) = all.get_mut("Search") {
            search["properties"]["seconds"]["maximum"] = self.limits.seconds.into();
        }
        all
    }
}

/// A reference to the schema of a file: `Job`, `Pile`, `Shop`, `Plan`, `Quote`.
pub fn file(name: &str) -> Value {
    json!({ "$ref": format!("{SCHEMAS}{name}") })
}

/// Points the references of a file's schema to where its parts are lifted to.
fn lift(schema: &mut Value, name: &str) {
    match schema {
        Value::Object(fields) => {
            for (key, value) in fields {
                match value.as_str().and_then(|text| text.strip_prefix("#/$defs/")) {
                    Some(part) if key == "$ref" => *value = format!("{SCHEMAS}{name}.{part}").into(),
                    _ => lift(value, name),
                }
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| lift(item, name)),
        _ => {}
    }
}

/// What the document says of an endpoint.
pub struct Operation {
    id: &'static str,
    summary: &'static str,
    description: &'static str,
    tag: &'static str,
    parameters: Vec<Value>,
    body: Map<String, Value>,
    answers: Map<String, Value>,
}

impl Operation {
    /// An operation; `id` names it for programs that are made from the document.
    pub fn new(tag: &'static str, id: &'static str, summary: &'static str, description: &'static str) -> Operation {
        let (parameters, body, answers) = (Vec::new(), Map::new(), Map::new());
        Operation { id, summary, description, tag, parameters, body, answers }
    }

    /// A parameter; those in the path are required, others are not.
    pub fn takes(mut self, name: &str, place: &str, description: &str, schema: Value) -> Operation {
        self.parameters.push(json!({
            "name": name, "in": place, "required": place == "path", "description": description, "schema": schema
        }));
        self
    }

    /// A kind of body it reads.
    pub fn reads(mut self, media: Media, schema: Value, example: Value) -> Operation {
        self.body.insert(media.name().to_owned(), json!({ "schema": schema, "example": example }));
        self
    }

    /// An answer it gives.
    pub fn gives(mut self, status: u16, description: &str, media: &str, schema: Value) -> Operation {
        let name = media.split(';').next().unwrap_or(media);
        let answer = self.answers.entry(status.to_string()).or_insert_with(|| json!({ "description": description }));
        answer["content"][name] = json!({ "schema": schema });
        self
    }

    /// A header of an answer it gives.
    pub fn with_header(mut self, status: u16, name: &str, description: &str) -> Operation {
        self.answers[&status.to_string()]["headers"][name] =
            json!({ "description": description, "schema": { "type": "string" } });
        self
    }

    /// Operations that may follow an answer, with the id it carries.
    pub fn leads_to(mut self, status: u16, operations: &[&str]) -> Operation {
        for operation in operations {
            let mut parameters = json!({ "id": "$response.body#/id" });
            if operation.starts_with("diagram_") {
                parameters["n"] = 0.into();
            }
            self.answers[&status.to_string()]["links"][operation] =
                json!({ "operationId": operation, "parameters": parameters });
        }
        self
    }

    /// Problems it ends with, beside those that any address may.
    pub fn fails(mut self, kinds: &[Kind]) -> Operation {
        for kind in kinds {
            let reference = json!({ "$ref": format!("#/components/responses/Problem{}", kind.status()) });
            self.answers.insert(kind.status().to_string(), reference);
        }
        self
    }

    /// What every operation with a body may fail with.
    pub fn fails_on_bodies(self) -> Operation {
        self.fails(&[Kind::Malformed, Kind::NotAcceptable, Kind::TooSlow, Kind::TooLarge, Kind::WrongMedia])
            .fails(&[Kind::Invalid, Kind::Busy])
    }

    fn into_value(self, open: bool) -> Value {
        let mut value = json!({
            "operationId": self.id, "summary": self.summary, "description": self.description, "tags": [self.tag],
            "responses": self.answers,
        });
        if !self.parameters.is_empty() {
            value["parameters"] = self.parameters.into();
        }
        if !self.body.is_empty() {
            value["requestBody"] = json!({ "required": true, "content": self.body });
        }
        if open {
            value["security"] = json!([]);
        }
        value
    }
}

/// The document of a service with these limits; `guarded` when it asks for tokens.
pub fn document(limits: &Limits, guarded: bool) -> Value {
    let mut schemas = Schemas::new(limits);
    let mut paths = Map::new();
    for endpoint in ALL {
        let mut operation = (endpoint.operation)(&mut schemas).fails(&[Kind::WrongHost, Kind::Fault]);
        if !endpoint.open {
            operation = operation.fails(&[Kind::NoToken]);
        }
        let path = paths.entry(endpoint.path).or_insert_with(|| json!({}));
        let verb = match endpoint.verb {
            Verb::Get => "get",
            Verb::Post => "post",
            Verb::Delete => "delete",
        };
        path[verb] = operation.into_value(endpoint.open || !guarded);
    }
    schemas.of::<Problem>();
    let mut document = json!({
        "openapi": "3.1.0",
        "jsonSchemaDialect": "https://json-schema.org/draft/2020-12/schema",
        "info": {
            "title": "flitchwork",
            "version": env!("CARGO_PKG_VERSION"),
            "summary": "Cut plans for a furniture shop, over HTTP",
            "description": "From a parts list and a measured pile of rough lumber: which boards to use, every cut in \
                order, what is left and what it costs, with a proof of how close that is to the best possible. Jobs, piles, \
                shops and plans are the files that the command line reads and writes.",
            "license": { "name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0" }
        },
        "servers": [{ "url": "/" }],
        "paths": paths,
        "components": {
            "schemas": schemas.into_map(),
            "responses": problems(),
            "securitySchemes": { "token": { "type": "http", "scheme": "bearer" } }
        },
    });
    if guarded {
        document["security"] = json!([{ "token": [] }]);
    }
    document
}

fn problems() -> Map<String, Value> {
    let mut answers = Map::new();
    for kind in Kind::ALL {
        let name = format!("Problem{}", kind.status());
        let known = answers.get(&name).and_then(|answer: &Value| answer["description"].as_str());
        let description =
            known.map_or_else(|| kind.title().to_owned(), |known| format!("{known}; or: {}", kind.title()));
        let mut answer = json!({
            "description": description,
            "content": { MEDIA: { "schema": { "$ref": format!("{SCHEMAS}Problem") } } }
        });
        if *kind == Kind::Busy {
            answer["headers"]["Retry-After"] =
                json!({ "description": "Seconds until it is worth trying again", "schema": { "type": "string" } });
        }
        answers.insert(name, answer);
    }
    answers
}

#[cfg(test)]
mod tests {
    use super::*;

    fn references<'a>(value: &'a Value, found: &mut Vec<&'a str>) {
        match value {
            Value::Object(fields) => {
                for (key, value) in fields {
                    match value.as_str() {
                        Some(text) if key == "$ref" => found.push(text),
                        _ => references(value, found),
                    }
                }
            }
            Value::Array(items) => items.iter().for_each(|item| references(item, found)),
            _ => {}
        }
    }

    #[test]
    fn every_reference_leads_somewhere() {
        let document = document(&Limits::default(), true);
        let mut found = Vec::new();
        references(&document, &mut found);
        assert!(found.len() > 60);
        for reference in found {
            let pointer = reference.strip_prefix('#').expect("references stay in the document");
            assert!(document.pointer(pointer).is_some(), "{reference} leads nowhere");
        }
    }

    #[test]
    fn every_endpoint_is_in_the_document_under_a_name_of_its_own() {
        let document = document(&Limits::default(), false);
        let mut names: Vec<&str> = ALL
            .iter()
            .map(|endpoint| {
                let verb = endpoint.verb.name().to_ascii_lowercase();
                document["paths"][endpoint.path][verb]["operationId"].as_str().expect("an operation")
            })
            .collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), ALL.len());
    }
}
