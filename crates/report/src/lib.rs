//! Findings, figures, one-file HTML, PDF and tables: from the numbers of an examination to pages a sceptic can check.
//!
//! Invariant: no clock, no disk, no network, no serde; the same [`Dossier`] gives the same bytes.
//! Invariant: nothing is measured here. Every number printed comes from the dossier; only its wording is ours.

pub mod dossier;
pub mod figures;
mod words;

#[cfg(test)]
mod testing;

pub use dossier::Dossier;
