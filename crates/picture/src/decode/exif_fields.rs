//! EXIF fields as text.

use exif::{Exif, Field, In, Reader, Tag, Value};

/// What is kept of a file's EXIF data.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct ExifFacts {
    pub(crate) orientation: u8,
    pub(crate) taken_at: Option<String>,
    pub(crate) camera: Option<String>,
    pub(crate) fields: Vec<(String, String)>,
    pub(crate) note: Option<String>,
}

/// Longest value kept as text: longer ones are tables for machines (common practice, no source).
const LONGEST_VALUE: usize = 400;
/// Most fields kept: real files have a hundred, a damaged one may claim thousands.
const MOST_FIELDS: usize = 1000;

/// Reads the block that cameras embed (a small TIFF); damaged blocks give what can be read, with a note.
pub(crate) fn read_exif(block: &[u8]) -> ExifFacts {
    let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
    let mut damaged = false;
    let read = Reader::new().continue_on_error(true).read_raw(block.to_vec());
    let Ok(exif) = read.or_else(|error| error.distill_partial_result(|_| damaged = true)) else {
        return ExifFacts {
            orientation: 1,
            note: Some("the EXIF data cannot be read".to_owned()),
            ..ExifFacts::default()
        };
    };
    let text = |tag| exif.get_field(tag, In::PRIMARY).and_then(ascii);
    ExifFacts {
        orientation: orientation(&exif),
        taken_at: text(Tag::DateTimeOriginal).or_else(|| text(Tag::DateTime)),
        camera: camera(text(Tag::Make), text(Tag::Model)),
        fields: exif
            .fields()
            .filter(|field| wanted(field))
            .take(MOST_FIELDS)
            .map(|field| shown(field, &exif))
            .collect(),
        note: damaged.then(|| "some EXIF fields are damaged and left out".to_owned()),
    }
}

/// Maker and model as one text, the maker not said twice.
pub(crate) fn camera(make: Option<String>, model: Option<String>) -> Option<String> {
    match (make, model) {
        (Some(make), Some(model)) if model.to_lowercase().starts_with(&make.to_lowercase()) => Some(model),
        (Some(make), Some(model)) => Some(format!("{make} {model}")),
        (make, model) => make.or(model),
    }
}

fn orientation(exif: &Exif) -> u8 {
    let found = exif.get_field(Tag::Orientation, In::PRIMARY).and_then(|field| field.value.get_uint(0));
    found.and_then(|tag| u8::try_from(tag).ok()).filter(|tag| (1..=8).contains(tag)).unwrap_or(1)
}

fn ascii(field: &Field) -> Option<String> {
    let Value::Ascii(parts) = &field.value else { return None };
    let text = String::from_utf8_lossy(parts.first()?)
        .trim_matches(|c: char| c.is_whitespace() || c == '\0')
        .to_owned();
    (!text.is_empty()).then_some(text)
}

/// Fields a reader can use: of the picture itself (not its thumbnail), and no tables for machines.
fn wanted(field: &Field) -> bool {
    let machine = [Tag::MakerNote, Tag::UserComment];
    field.ifd_num == In::PRIMARY
        && !machine.contains(&field.tag)
        && !matches!(field.value, Value::Unknown(..))
}

fn shown(field: &Field, exif: &Exif) -> (String, String) {
    let text = ascii(field).unwrap_or_else(|| field.display_value().with_unit(exif).to_string());
    let value = match text.char_indices().nth(LONGEST_VALUE) {
        Some((cut, _)) => format!("{}…", text.get(..cut).unwrap_or("")),
        None => text,
    };
    (field.tag.to_string(), value)
}
