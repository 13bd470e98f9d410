//! The examination on disk: SQLite, untouched originals, journal and packages; the only writer.
