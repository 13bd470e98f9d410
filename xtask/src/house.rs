//! House rules that a reader relies on and that rot unless something reads them back.

use crate::steps::repository;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Crates and their layer; a crate may use only crates of lower layers (`ARCHITECTURE.md`).
const LAYERS: [(&str, u8); 14] = [
    ("quantity", 0),
    ("picture", 1),
    ("lay", 1),
    ("stone", 1),
    ("trace", 2),
    ("finish", 2),
    ("form", 2),
    ("weigh", 3),
    ("report", 4),
    ("archive", 5),
    ("wire", 5),
    ("examine", 6),
    ("cli", 7),
    ("desk", 7),
];

/// Crates of one layer where one may call the other all the same: the command line starts the workbench.
const SIDEWAYS: [(&str, &str); 1] = [("cli", "desk")];

/// The only crates that may name these outsiders, each for the reason in `ARCHITECTURE.md`.
const RESERVED: [(&str, &[&str]); 6] = [
    ("serde", &["wire"]),
    ("serde_json", &["wire"]),
    ("rusqlite", &["archive"]),
    ("image", &["picture"]),
    ("typst", &["report"]),
    ("axum", &["desk"]),
];

/// Lines of code a source file may have before its test module (STYLE: hard stop).
const LINES_MAX: usize = 800;

/// Reads every rule back and names every breach.
pub fn check() -> Result<(), String> {
    let root = repository();
    let mut breaches = Vec::new();
    crate_map(&root, &mut breaches);
    layers(&root, &mut breaches);
    sources(&root, &mut breaches);
    published(&root, &mut breaches);
    links(&root, &mut breaches);
    if breaches.is_empty() {
        eprintln!("house rules: all kept");
        return Ok(());
    }
    Err(format!("house rules broken:\n  {}", breaches.join("\n  ")))
}

/// The crate map in `ARCHITECTURE.md` names the crates that exist, no more and no fewer, each in its layer.
fn crate_map(root: &Path, breaches: &mut Vec<String>) {
    let present = folder_names(&root.join("crates"));
    let layered: BTreeSet<String> = LAYERS.iter().map(|(name, _)| (*name).to_owned()).collect();
    for name in present.symmetric_difference(&layered) {
        breaches.push(format!(
            "crates/{name}: in the folder or in the layer table of xtask/src/house.rs, but not in both"
        ));
    }
    let map = fs::read_to_string(root.join("ARCHITECTURE.md")).unwrap_or_default();
    let mapped: BTreeSet<(String, u8)> = map.lines().filter_map(map_row).collect();
    let expected: BTreeSet<(String, u8)> =
        LAYERS.iter().map(|(name, layer)| ((*name).to_owned(), *layer)).collect();
    for (name, layer) in mapped.symmetric_difference(&expected) {
        breaches
            .push(format!("ARCHITECTURE.md: the crate map and the layer table differ on {name} (L{layer})"));
    }
    if map.lines().count() > 250 {
        breaches.push("ARCHITECTURE.md: more than 250 lines".to_owned());
    }
}

/// A row of the crate map: ``| L2 | `crates/trace` | … |``.
fn map_row(line: &str) -> Option<(String, u8)> {
    let mut cells = line.split('|').map(str::trim).skip(1);
    let layer = cells.next()?.strip_prefix('L')?.parse().ok()?;
    let name = cells.next()?.strip_prefix("`crates/")?.strip_suffix('`')?;
    Some((name.to_owned(), layer))
}

/// Dependencies point downwards, and reserved outsiders stay where they belong.
fn layers(root: &Path, breaches: &mut Vec<String>) {
    for (name, layer) in LAYERS {
        let manifest = format!("crates/{name}/Cargo.toml");
        let text = fs::read_to_string(root.join(&manifest)).unwrap_or_default();
        for dependency in dependencies(&text) {
            let lower = LAYERS.iter().find(|(other, _)| *other == dependency).map(|(_, other)| *other);
            let sideways = SIDEWAYS.contains(&(name, dependency.as_str()));
            if lower.is_some_and(|other| other >= layer) && !sideways {
                breaches.push(format!("{manifest}: {name} (L{layer}) may not use {dependency}"));
            }
            if let Some((_, owners)) = RESERVED.iter().find(|(outsider, _)| *outsider == dependency)
                && !owners.contains(&name)
            {
                breaches.push(format!("{manifest}: {dependency} belongs to {} alone", owners.join(", ")));
            }
        }
    }
}

/// Names in the `[dependencies]` section of a manifest.
fn dependencies(manifest: &str) -> Vec<String> {
    let section = manifest.lines().skip_while(|line| line.trim() != "[dependencies]").skip(1);
    section
        .take_while(|line| !line.starts_with('['))
        .filter_map(|line| line.split(['.', '=', ' ']).next())
        .filter(|name| !name.is_empty() && !name.starts_with('#'))
        .map(str::to_owned)
        .collect()
}

/// Every crate states its role and what it must not know; no file outgrows one idea; no test is switched off.
fn sources(root: &Path, breaches: &mut Vec<String>) {
    for (name, _) in LAYERS {
        let lib = root.join(format!("crates/{name}/src/lib.rs"));
        let entry = if lib.exists() { lib } else { root.join(format!("crates/{name}/src/main.rs")) };
        let text = fs::read_to_string(&entry).unwrap_or_default();
        let head: Vec<&str> = text.lines().take_while(|line| line.starts_with("//!")).collect();
        if !head.iter().any(|line| line.starts_with("//! Invariant:")) {
            breaches.push(format!(
                "{}: opens without a role sentence and an `Invariant:` line",
                shown(root, &entry)
            ));
        }
    }
    for file in rust_files(root) {
        let text = fs::read_to_string(&file).unwrap_or_default();
        let lines =
            text.lines().take_while(|line| *line != "#[cfg(test)]").filter(|line| is_code(line)).count();
        if lines > LINES_MAX {
            breaches.push(format!("{}: {lines} lines of code, {LINES_MAX} at most", shown(root, &file)));
        }
        for (number, line) in text.lines().enumerate() {
            let switched_off = line.trim_start().starts_with(concat!("#[", "ignore"));
            let unfinished = [concat!("todo", "!("), concat!("unimplemented", "!(")]
                .iter()
                .any(|word| line.contains(word));
            if switched_off || unfinished {
                breaches.push(format!("{}:{}: {}", shown(root, &file), number + 1, line.trim()));
            }
        }
    }
}

fn is_code(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with("//")
}

/// Every table of published values says where its values come from and who read them there.
fn published(root: &Path, breaches: &mut Vec<String>) {
    for name in folder_names(&root.join("tests/published")) {
        let text = fs::read_to_string(root.join("tests/published").join(&name)).unwrap_or_default();
        for key in ["\"source\"", "\"read_by\""] {
            if !text.contains(key) {
                breaches.push(format!("tests/published/{name}: no {key}"));
            }
        }
    }
}

/// Every relative link of the written pages leads somewhere.
fn links(root: &Path, breaches: &mut Vec<String>) {
    let mut pages: Vec<PathBuf> = [root.to_path_buf(), root.join("docs")]
        .iter()
        .flat_map(|folder| fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "md"))
        .collect();
    pages.sort();
    for page in pages {
        let text = fs::read_to_string(&page).unwrap_or_default();
        let folder = page.parent().unwrap_or(root);
        for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let file = target.split('#').next().unwrap_or_default();
            if !file.is_empty() && !file.contains("://") && !folder.join(file).exists() {
                breaches.push(format!("{}: link to {target} leads nowhere", shown(root, &page)));
            }
        }
    }
}

fn folder_names(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect()
}

fn rust_files(root: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![root.join("crates"), root.join("tests"), root.join("benches"), root.join("xtask")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

fn shown(root: &Path, path: &Path) -> String {
    path.strip_prefix(root).unwrap_or(path).display().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_map_rows_and_manifests() {
        assert_eq!(map_row("| L2 | `crates/trace` | from pixels |"), Some(("trace".to_owned(), 2)));
        assert_eq!(map_row("| layer | crate | role |"), None);
        let manifest = "[package]\nname = \"x\"\n[dependencies]\nlay.workspace = true\n# note\nserde = \"1\"\n[dev-dependencies]\nproptest = \"1\"\n";
        assert_eq!(dependencies(manifest), ["lay", "serde"]);
    }

    #[test]
    fn an_upward_dependency_is_named() {
        let root = std::env::temp_dir().join(format!("rubstone-house-{}", std::process::id()));
        fs::create_dir_all(root.join("crates/lay")).unwrap();
        fs::write(
            root.join("crates/lay/Cargo.toml"),
            "[dependencies]\ntrace.workspace = true\nserde = \"1\"\n",
        )
        .unwrap();
        let mut breaches = Vec::new();
        layers(&root, &mut breaches);
        fs::remove_dir_all(&root).unwrap();
        assert_eq!(
            breaches,
            [
                "crates/lay/Cargo.toml: lay (L1) may not use trace",
                "crates/lay/Cargo.toml: serde belongs to wire alone"
            ]
        );
    }
}
