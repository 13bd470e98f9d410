//! The description inside an X3P container, taken apart into the few things the heights need.

use quick_xml::Reader;
use quick_xml::events::Event;

use crate::ReadError;

const FORMAT: &str = "X3P";
/// The standard's own document is seven elements deep at most; more is not one of its documents.
const MAX_DEPTH: usize = 32;
/// The standard's own document has some forty entries beside the heights; vendors add a few (our choice).
const MAX_ENTRIES: usize = 10_000;

/// One leaf of the document: its path without the root, joined by `/`, and its text.
struct Leaf {
    path: String,
    text: String,
}

/// What `main.xml` says.
pub(super) struct Description {
    leaves: Vec<Leaf>,
    /// Heights written into the document itself, metres or counts; NaN where not measured.
    pub(super) heights: Vec<f64>,
}

impl Description {
    /// Takes the document apart.
    ///
    /// # Errors
    /// [`ReadError::Damaged`] for a document type declaration or an unknown entity (neither belongs here, both are
    /// how small files grow large), for broken XML and for too deep nesting.
    pub(super) fn parse(xml: &str) -> Result<Self, ReadError> {
        let mut reader = Reader::from_str(xml);
        reader.config_mut().expand_empty_elements = true;
        let mut description = Self { leaves: Vec::new(), heights: Vec::new() };
        let mut path: Vec<String> = Vec::new();
        let mut text = String::new();
        loop {
            match reader.read_event().map_err(|fault| damaged(format!("main.xml: {fault}")))? {
                Event::Start(start) => {
                    path.push(String::from_utf8_lossy(start.local_name().as_ref().as_ref()).into_owned());
                    text.clear();
                    if path.len() > MAX_DEPTH {
                        return Err(damaged("main.xml is nested too deeply".to_owned()));
                    }
                }
                Event::Text(part) => text.push_str(&part.xml10_content()),
                Event::CData(part) => text.push_str(&part.xml10_content()),
                Event::GeneralRef(name) => text.push(predefined(&name.xml10_content())?),
                Event::End(_) => {
                    description.close(&path, &mut text)?;
                    path.pop();
                }
                Event::DocType(_) => {
                    return Err(damaged(
                        "main.xml declares a document type, which the standard does not use".to_owned(),
                    ));
                }
                Event::Eof => break,
                Event::Empty(_) | Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
            }
        }
        if path.is_empty() { Ok(description) } else { Err(damaged("main.xml ends in the middle".to_owned())) }
    }

    fn close(&mut self, path: &[String], text: &mut String) -> Result<(), ReadError> {
        let value = std::mem::take(text);
        let value = value.trim();
        let inner = path.get(1..).unwrap_or_default();
        if inner.len() == 3 && inner[0] == "Record3" && inner[1] == "DataList" && inner[2] == "Datum" {
            self.heights.push(listed_height(value)?);
        } else if !inner.is_empty() && !value.is_empty() {
            if self.leaves.len() == MAX_ENTRIES {
                return Err(damaged(format!("main.xml holds more than {MAX_ENTRIES} entries")));
            }
            self.leaves.push(Leaf { path: inner.join("/"), text: value.to_owned() });
        }
        Ok(())
    }

    /// The text at a path such as `Record1/Axes/CX/Increment`.
    pub(super) fn text(&self, path: &str) -> Option<&str> {
        self.leaves.iter().find(|leaf| leaf.path == path).map(|leaf| leaf.text.as_str())
    }

    /// The finite number at a path; `None` if absent.
    ///
    /// # Errors
    /// [`ReadError::Damaged`] if there is text that is not a finite number.
    pub(super) fn number(&self, path: &str) -> Result<Option<f64>, ReadError> {
        let Some(text) = self.text(path) else { return Ok(None) };
        let number = text.parse().ok().filter(|value: &f64| value.is_finite());
        number.map(Some).ok_or_else(|| damaged(format!("{path} is '{}', not a number", shortened(text))))
    }

    /// The whole number at a path.
    ///
    /// # Errors
    /// [`ReadError::Damaged`] if absent or not a whole number.
    pub(super) fn count(&self, path: &str) -> Result<u64, ReadError> {
        let text = self.text(path).ok_or_else(|| damaged(format!("{path} is missing")))?;
        text.parse().map_err(|_| damaged(format!("{path} is '{}', not a whole number", shortened(text))))
    }

    /// The describing entries of Record2, names and values.
    pub(super) fn facts(&self) -> Vec<(String, String)> {
        let described = self.leaves.iter().filter_map(|leaf| {
            let name = leaf.path.strip_prefix("Record2/")?;
            Some((name.replace('/', " "), shortened(&leaf.text)))
        });
        described.collect()
    }
}

/// The last number of an entry is its height; an empty entry was not measured.
fn listed_height(entry: &str) -> Result<f64, ReadError> {
    if entry.is_empty() {
        return Ok(f64::NAN);
    }
    let last = entry.rsplit(';').next().unwrap_or_default().trim();
    last.parse()
        .map_err(|_| damaged(format!("'{}' is not a height", last.chars().take(20).collect::<String>())))
}

/// The five entities every XML reader knows and character references; nothing else expands.
fn predefined(name: &str) -> Result<char, ReadError> {
    let unknown = || damaged(format!("main.xml uses the entity '{}'", shortened(name)));
    if let Some(code) = name.strip_prefix("#x") {
        return u32::from_str_radix(code, 16).ok().and_then(char::from_u32).ok_or_else(unknown);
    }
    if let Some(code) = name.strip_prefix('#') {
        return code.parse().ok().and_then(char::from_u32).ok_or_else(unknown);
    }
    match name {
        "amp" => Ok('&'),
        "lt" => Ok('<'),
        "gt" => Ok('>'),
        "quot" => Ok('"'),
        "apos" => Ok('\''),
        _ => Err(unknown()),
    }
}

fn shortened(text: &str) -> String {
    text.chars().take(200).collect()
}

fn damaged(fault: String) -> ReadError {
    ReadError::Damaged { format: FORMAT, fault }
}
