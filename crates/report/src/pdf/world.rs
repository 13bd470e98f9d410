//! What the typesetter may see: one source text, the figures of this report and the embedded fonts. No disk, no clock.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_kit::fonts::FontStore;

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

static FONTS: LazyLock<FontStore> = LazyLock::new(|| {
    let mut fonts = FontStore::new();
    fonts.extend(typst_kit::fonts::embedded());
    fonts
});

/// Whether the embedded fonts have a glyph for a character.
pub(super) fn has_glyph(character: char) -> bool {
    character.is_ascii_graphic()
        || character == ' '
        || (0..)
            .map_while(|index| FONTS.book().info(index))
            .any(|face| face.coverage.contains(u32::from(character)))
}

/// One report as the typesetter's world.
pub(super) struct OneReport {
    main: Source,
    /// Figures as `/1.svg`, `/2.svg`, …
    figures: Vec<(FileId, Bytes)>,
}

impl OneReport {
    pub(super) fn new(text: String, figures: Vec<String>) -> Self {
        let figures = figures
            .into_iter()
            .enumerate()
            .filter_map(|(index, svg)| Some((file_id(&figure_path(index))?, Bytes::from_string(svg))))
            .collect();
        let main = match file_id("/report.typ") {
            Some(id) => Source::new(id, text),
            None => Source::detached(text),
        };
        Self { main, figures }
    }
}

/// Path that the source text names the figure by.
pub(super) fn figure_path(index: usize) -> String {
    format!("/{}.svg", index + 1)
}

fn file_id(path: &str) -> Option<FileId> {
    VirtualPath::new(path).ok().map(|path| RootedPath::new(VirtualRoot::Project, path).intern())
}

impl World for OneReport {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONTS.book()
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(not_here(id)) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.figures
            .iter()
            .find_map(|(figure, bytes)| (*figure == id).then(|| bytes.clone()))
            .ok_or_else(|| not_here(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.font(index)
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn not_here(id: FileId) -> FileError {
    FileError::NotFound(std::path::PathBuf::from(id.vpath().get_without_slash()))
}
