//! The sample examination: an invented object, rendered micrographs, and the whole job done on them.

use std::path::Path;

use archive::{
    CaptureKind, Examination, Instrument, InstrumentId, InstrumentKind, Object, Pin, Rock, Station,
};
use finish::sample::{SampleError, Scenario, scenario};
use quantity::Measured;

use crate::watch::Part;
use crate::{
    AddOptions, ExamineError, Failure, PublishOptions, Published, SOFTWARE, Watch, WeighOptions, add_bytes,
    from_graduation, measure_examination, publish, weigh_examination,
};

/// What the sample left.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Micrographs measured.
    pub n_measured: usize,
    /// Its report.
    pub report: Published,
    /// Captures that failed.
    pub failures: Vec<Failure>,
}

/// Shares of the time that rendering, measuring and weighing take up to their ends (a rough measure for the progress bar).
const RENDERED: f64 = 0.15;
const MEASURED: f64 = 0.35;
const WEIGHED: f64 = 0.9;
/// Standard uncertainty of a pitch as a share of it: what a plain graduation is sold with (common practice, no source).
const PITCH_U_SHARE: f64 = 0.001;

impl From<SampleError> for ExamineError {
    fn from(error: SampleError) -> Self {
        Self::Request(error.to_string())
    }
}

/// Writes a complete sample examination into the new folder `root`, measures it, weighs the finishes and writes its report. Scales come from
/// photographed graduations, traces from the pictures: nothing is taken from the scenario but what an examiner would have
/// noted.
///
/// # Errors
/// The folder is not empty, the disk is full, or the watcher gave up; what was finished stays.
pub fn sample(root: &Path, watch: &dyn Watch) -> Result<Sample, ExamineError> {
    let examination = Examination::begin(root, SOFTWARE)?;
    let scenario = scenario();
    write_object(&examination, &scenario)?;
    let instruments = write_instruments(&examination, &scenario)?;
    write_stations(&examination, &scenario, &instruments, &Part { whole: watch, from: 0.0, to: RENDERED })?;
    let measuring = Part { whole: watch, from: RENDERED, to: MEASURED };
    let (n_measured, failures) = measure_examination(&examination, &measuring)?;
    let weighing = Part { whole: watch, from: MEASURED, to: WEIGHED };
    weigh_examination(&examination, &WeighOptions::default(), &weighing)?;
    let printing = Part { whole: watch, from: WEIGHED, to: 1.0 };
    let report = publish(&examination, &PublishOptions::default(), &printing)?;
    Ok(Sample { n_measured, report, failures })
}

fn write_object(examination: &Examination, scenario: &Scenario) -> Result<(), ExamineError> {
    let object = &scenario.object;
    Ok(examination.set_object(&Object {
        name: object.name.to_owned(),
        rock: Rock::Named(object.rock.to_owned()),
        place: object.place.to_owned(),
        conditions: object.conditions.to_owned(),
        note: object.question.to_owned(),
    })?)
}

/// Instruments with the scales their graduations give, by their short names.
fn write_instruments(
    examination: &Examination,
    scenario: &Scenario,
) -> Result<Vec<(&'static str, InstrumentId)>, ExamineError> {
    let mut made = Vec::new();
    for text in &scenario.instruments {
        let mut instrument = Instrument::named(text.name, InstrumentKind::Microscope);
        instrument.id = examination.make_instrument(&instrument)?;
        for shot in scenario.graduations.iter().filter(|shot| shot.instrument == text.id) {
            let options =
                AddOptions { kind: CaptureKind::Graduation, station: None, instrument: Some(instrument.id) };
            let (added, _) = add_bytes(examination, &shot.file()?, &shot.file_name, &options)?;
            let pitch = Measured { value: text.um_per_tick, u: PITCH_U_SHARE * text.um_per_tick };
            let capture = examination.capture(added.id())?;
            let told = from_graduation(examination, &capture, pitch)?;
            instrument.scale = Some(told.scale);
            // A graduation too short to tell the lens leaves it uncalibrated, as it would an examiner.
            instrument.lens = told.lens.ok();
            examination.set_instrument(&instrument)?;
        }
        made.push((text.id, instrument.id));
    }
    Ok(made)
}

fn write_stations(
    examination: &Examination,
    scenario: &Scenario,
    instruments: &[(&'static str, InstrumentId)],
    watch: &dyn Watch,
) -> Result<(), ExamineError> {
    let overview = &scenario.overview;
    let plain = AddOptions { kind: CaptureKind::Overview, station: None, instrument: None };
    let (added, _) = add_bytes(examination, &overview.file()?, overview.file_name, &plain)?;
    let mut capture = examination.capture(added.id())?;
    overview.caption.clone_into(&mut capture.note);
    examination.set_capture(&capture)?;
    let [width_px, height_px] = overview.size_px.map(|side| side as f64);
    let n_pictures: usize = scenario.stations.iter().map(|station| station.micrographs.len()).sum();
    let mut n_done = 0;
    for text in &scenario.stations {
        let id = examination.make_station(text.name)?;
        let at = [text.pin_px[0] / width_px, text.pin_px[1] / height_px];
        let pin = Some(Pin { capture: capture.id, at });
        examination.set_station(&Station {
            id,
            name: text.name.to_owned(),
            note: text.note.to_owned(),
            pin,
        })?;
        for micrograph in &text.micrographs {
            if !watch.at(n_done as f64 / n_pictures as f64, &micrograph.file_name) {
                return Err(ExamineError::Stopped);
            }
            let instrument = instruments.iter().find(|(short, _)| *short == micrograph.instrument);
            let options = AddOptions {
                kind: CaptureKind::Micrograph,
                station: Some(id),
                instrument: instrument.map(|(_, id)| *id),
            };
            let (added, _) = add_bytes(examination, &micrograph.file()?, &micrograph.file_name, &options)?;
            let mut capture = examination.capture(added.id())?;
            capture.light = Some(micrograph.light());
            examination.set_capture(&capture)?;
            n_done += 1;
        }
    }
    Ok(())
}
