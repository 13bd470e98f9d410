//! Writes reports of invented examinations into a folder, for looking at: `cargo run --example pages -- DIR`.

#[path = "../tests/sample/mod.rs"]
mod sample;

use std::error::Error;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder to write into")?);
    let dossiers = [
        ("full", sample::full()),
        ("empty", report::Dossier::default()),
        ("none", sample::with_traces(0)),
        ("one", sample::with_traces(1)),
        ("many", sample::with_traces(10_000)),
        ("hostile", sample::hostile()),
    ];
    for (name, dossier) in dossiers {
        let folder = folder.join(name);
        std::fs::create_dir_all(&folder)?;
        std::fs::write(folder.join("report.html"), report::html(&dossier)?)?;
        for table in report::tables(&dossier)? {
            std::fs::write(folder.join(table.name), table.csv)?;
        }
        let started = std::time::Instant::now();
        std::fs::write(folder.join("report.pdf"), report::pdf(&dossier)?)?;
        println!("{name}: PDF in {:.1} s", started.elapsed().as_secs_f64());
    }
    std::fs::write(folder.join("sheet.pdf"), report::field_sheet(&sample::sheet())?)?;
    Ok(())
}
