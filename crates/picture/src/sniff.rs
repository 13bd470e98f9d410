//! What a file is, from its first bytes.

use crate::facts::Format;

/// What the first bytes say.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Sniffed {
    /// A format that is read.
    Picture(Format),
    /// Something else, in words, and what to do about it.
    Other(String, &'static str),
}

const SAVE_AS: &str = "save the picture as JPEG, PNG or TIFF";
const NOT_PICTURE: &str = "take it out of the folder or give the picture it belongs to";

/// Tells the format by content; names are never believed.
pub(crate) fn sniff(bytes: &[u8]) -> Sniffed {
    let picture = [
        (&b"\xff\xd8\xff"[..], Format::Jpeg),
        (b"\x89PNG\r\n\x1a\n", Format::Png),
        (b"II*\0", Format::Tiff),
        (b"MM\0*", Format::Tiff),
        (b"II+\0", Format::Tiff),
        (b"MM\0+", Format::Tiff),
        (b"GIF87a", Format::Gif),
        (b"GIF89a", Format::Gif),
    ];
    if let Some((_, format)) = picture.iter().find(|(magic, _)| bytes.starts_with(magic)) {
        return Sniffed::Picture(*format);
    }
    if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        return Sniffed::Picture(Format::WebP);
    }
    // 'BM' alone is also how some English texts begin: the header size that follows must be a known one.
    if bytes.starts_with(b"BM") && bytes.get(15..18) == Some(&[0, 0, 0]) {
        return Sniffed::Picture(Format::Bmp);
    }
    other(bytes)
}

fn other(bytes: &[u8]) -> Sniffed {
    let known = [
        (&b"%PDF"[..], "a PDF document", "export the picture from it as PNG or TIFF"),
        (b"PK\x03\x04", "a zip archive", "unpack it and give the pictures inside"),
        (b"8BPS", "a layered editor document", SAVE_AS),
        (b"\0\0\0\x0cJXL ", "a JPEG XL picture", SAVE_AS),
        (b"\xff\x0a", "a JPEG XL picture", SAVE_AS),
        (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture", SAVE_AS),
        (b"\xffO\xffQ", "a JPEG 2000 picture", SAVE_AS),
        (b"v/1\x01", "a floating-point film picture (EXR)", SAVE_AS),
        (b"SQLite format 3\0", "a database", NOT_PICTURE),
    ];
    if let Some((_, found, advice)) = known.iter().find(|(magic, _, _)| bytes.starts_with(magic)) {
        return Sniffed::Other((*found).to_owned(), advice);
    }
    if bytes.get(4..8) == Some(b"ftyp") {
        return Sniffed::Other(
            "an HEIC/AVIF picture or a film".to_owned(),
            "save the picture as JPEG or PNG on the device that took it",
        );
    }
    let head = bytes.get(..bytes.len().min(512)).unwrap_or(&[]);
    if is_text(head) {
        return Sniffed::Other("text".to_owned(), NOT_PICTURE);
    }
    let shown: Vec<String> = head.iter().take(4).map(|byte| format!("{byte:02x}")).collect();
    Sniffed::Other(format!("of no known kind (it begins with bytes {})", shown.join(" ")), SAVE_AS)
}

/// Whether the bytes read as text: UTF-8 (a character may be cut at the end) without control characters other than white space.
fn is_text(head: &[u8]) -> bool {
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => {
            head.get(..error.valid_up_to()).and_then(|valid| std::str::from_utf8(valid).ok()).unwrap_or("")
        }
        Err(_) => "",
    };
    !text.is_empty() && text.chars().all(|c| !c.is_control() || c.is_whitespace())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_counts() {
        assert_eq!(sniff(b"\xff\xd8\xff\xe0"), Sniffed::Picture(Format::Jpeg));
        assert!(
            matches!(sniff("BMs are maps, says this text".as_bytes()), Sniffed::Other(found, _) if found == "text")
        );
        assert!(matches!(sniff(b"plain words"), Sniffed::Other(found, _) if found == "text"));
        assert!(
            matches!(sniff(&[0, 1, 2, 3, 4, 5, 6, 7, 8]), Sniffed::Other(found, _) if found.contains("00 01 02 03"))
        );
        assert!(matches!(sniff(b"\0\0\0\x18ftypheic"), Sniffed::Other(found, _) if found.contains("HEIC")));
    }
}
