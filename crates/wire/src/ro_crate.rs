//! `ro-crate-metadata.json` of a package: RO-Crate 1.2.
//!
//! Source: RO-Crate Metadata Specification 1.2, `https://w3id.org/ro/crate/1.2`.

use serde_json::{Value, json};

use crate::{FormError, to_text};

/// Address of the context, as the specification gives it.
const CONTEXT: &str = "https://w3id.org/ro/crate/1.2/context";
/// Address of the specification the crate follows.
const CONFORMS_TO: &str = "https://w3id.org/ro/crate/1.2";
/// Name of the descriptor.
const DESCRIPTOR: &str = "ro-crate-metadata.json";

/// What a package is about.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CrateText {
    /// Name of the object or of the examination.
    pub name: String,
    /// What the package holds, in one or two sentences.
    pub description: String,
    /// Day it was published, ISO 8601.
    pub date_published: String,
    /// Licence: an address or words.
    pub license: String,
    /// Identifier of the examination.
    pub identifier: String,
    /// Program that measured, such as "rubstone 0.1.0".
    pub software: String,
    /// The files, in the order to list.
    pub files: Vec<CrateFile>,
}

/// One file of the package.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CrateFile {
    /// Path in the package, relative to the metadata file.
    pub path: String,
    /// Name for people: the file's own name.
    pub name: String,
    /// What it is, in words; may be empty.
    pub description: String,
    /// Media type; may be empty.
    pub media_type: String,
    /// Size, if known.
    pub bytes: Option<u64>,
    /// SHA-256, if known.
    pub sha256: Option<String>,
    /// When it was made (ISO 8601), if known.
    pub created: Option<String>,
    /// Whether it is an untouched original (and not a result of the program).
    pub original: bool,
}

/// The metadata as JSON text.
///
/// # Errors
/// [`FormError::Unwritable`], which no form of ours should meet.
pub fn metadata(text: &CrateText) -> Result<String, FormError> {
    let parts: Vec<Value> = text.files.iter().map(|file| json!({ "@id": encoded(&file.path) })).collect();
    let of = |original: bool| -> Vec<Value> {
        let files = text.files.iter().filter(|file| file.original == original);
        files.map(|file| json!({ "@id": encoded(&file.path) })).collect()
    };
    let mut graph = vec![
        json!({
            "@id": DESCRIPTOR,
            "@type": "CreativeWork",
            "about": { "@id": "./" },
            "conformsTo": { "@id": CONFORMS_TO },
        }),
        json!({
            "@id": "./",
            "@type": "Dataset",
            "name": text.name,
            "description": text.description,
            "datePublished": text.date_published,
            "license": text.license,
            "identifier": text.identifier,
            "hasPart": parts,
            "mentions": [{ "@id": "#measuring" }],
        }),
        json!({ "@id": "#software", "@type": "SoftwareApplication", "name": text.software }),
        json!({
            "@id": "#measuring",
            "@type": "CreateAction",
            "name": "Measuring and reporting",
            "instrument": { "@id": "#software" },
            "object": of(true),
            "result": of(false),
        }),
    ];
    graph.extend(text.files.iter().map(file_entity));
    to_text(&json!({ "@context": CONTEXT, "@graph": graph }))
}

fn file_entity(file: &CrateFile) -> Value {
    let mut entity = json!({ "@id": encoded(&file.path), "@type": "File", "name": file.name });
    let Some(fields) = entity.as_object_mut() else { return entity };
    let mut put = |name: &str, value: Option<String>| {
        if let Some(value) = value.filter(|value| !value.is_empty()) {
            fields.insert(name.to_owned(), Value::String(value));
        }
    };
    put("description", Some(file.description.clone()));
    put("encodingFormat", Some(file.media_type.clone()));
    // The specification wants the size as a string.
    put("contentSize", file.bytes.map(|bytes| bytes.to_string()));
    put("sha256", file.sha256.clone());
    put("dateCreated", file.created.clone());
    entity
}

/// Identifiers of files are relative addresses: what an address may not hold is percent-encoded (RFC 3986).
fn encoded(path: &str) -> String {
    let mut out = String::new();
    for byte in path.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(char::from(byte))
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> Value {
        let text = CrateText {
            name: "Slab".into(),
            description: "An examination.".into(),
            date_published: "2026-03-01".into(),
            license: "ask the examiner".into(),
            files: vec![CrateFile {
                path: "report/a b.csv".into(),
                name: "a b.csv".into(),
                bytes: Some(12),
                ..CrateFile::default()
            }],
            ..CrateText::default()
        };
        serde_json::from_str(&metadata(&text).unwrap()).unwrap()
    }

    fn entity<'a>(crate_: &'a Value, id: &str) -> &'a Value {
        crate_["@graph"].as_array().unwrap().iter().find(|entity| entity["@id"] == id).unwrap()
    }

    /// RO-Crate 1.2, sections "RO-Crate Metadata Descriptor" and "Root Data Entity": what MUST be there.
    #[test]
    fn descriptor_and_root_have_what_they_must() {
        let crate_ = sample();
        assert_eq!(crate_["@context"], "https://w3id.org/ro/crate/1.2/context");
        let descriptor = entity(&crate_, "ro-crate-metadata.json");
        assert_eq!(descriptor["@type"], "CreativeWork");
        assert_eq!(descriptor["about"]["@id"], "./");
        assert_eq!(descriptor["conformsTo"]["@id"], "https://w3id.org/ro/crate/1.2");
        let root = entity(&crate_, "./");
        assert_eq!(root["@type"], "Dataset");
        for field in ["name", "description", "datePublished", "license"] {
            assert!(root[field].as_str().is_some_and(|text| !text.is_empty()), "{field}");
        }
    }

    /// RO-Crate 1.2, "Data Entities": files are linked from the root, identified by an encoded relative path.
    #[test]
    fn files_are_linked_and_encoded() {
        let crate_ = sample();
        assert_eq!(entity(&crate_, "./")["hasPart"][0]["@id"], "report/a%20b.csv");
        let file = entity(&crate_, "report/a%20b.csv");
        assert_eq!(file["@type"], "File");
        assert_eq!(file["contentSize"], "12");
    }

    /// JSON-LD 1.1 flattened form: every identifier once, every reference resolved.
    #[test]
    fn every_reference_leads_somewhere() {
        let crate_ = sample();
        let ids: Vec<&str> =
            crate_["@graph"].as_array().unwrap().iter().map(|e| e["@id"].as_str().unwrap()).collect();
        let mut sorted = ids.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted.len(), ids.len());
        fn check(value: &Value, ids: &[&str]) {
            match value {
                Value::Object(fields) if fields.len() == 1 && fields.contains_key("@id") => {
                    let id = fields["@id"].as_str().unwrap();
                    assert!(ids.contains(&id) || id.starts_with("https://"), "{id}");
                }
                Value::Object(fields) => fields.values().for_each(|value| check(value, ids)),
                Value::Array(items) => items.iter().for_each(|value| check(value, ids)),
                _ => {}
            }
        }
        check(&crate_["@graph"], &ids);
    }
}
