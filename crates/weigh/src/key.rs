//! The name of a stored engine: a hash of all that its digits depend on.

use crate::engine::Options;
use crate::geometry::{Geometry, Lit};
use crate::nuisance;
use crate::tracer::Tracer;
use finish::models::{Finish, Parameter, Span, Wear, common_parameters};
use sha2::{Digest, Sha256};

/// Version of the engine, raised whenever its digits change for other reasons than what is hashed below.
pub(crate) const VERSION: &str = "rubstone-engine-8";

/// A hash that takes numbers and texts without mixing up where one ends.
#[derive(Default)]
pub(crate) struct Fingerprint(Sha256);

impl Fingerprint {
    pub fn number(&mut self, number: f64) {
        self.0.update(number.to_le_bytes());
    }

    pub fn text(&mut self, text: &str) {
        self.0.update((text.len() as u64).to_le_bytes());
        self.0.update(text);
    }

    pub fn hex(self) -> String {
        self.0.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }

    fn span(&mut self, span: Span) {
        self.number(span.low);
        self.number(span.high);
    }

    fn parameters(&mut self, parameters: &[Parameter]) {
        self.number(parameters.len() as f64);
        for parameter in parameters {
            self.text(parameter.name);
            self.text(&format!("{:?}", parameter.scale));
            self.span(parameter.narrow);
            parameter.shifted.iter().for_each(|span| self.span(*span));
        }
    }

    fn geometry(&mut self, geometry: &Geometry) {
        self.number(geometry.fields.len() as f64);
        for field in &geometry.fields {
            let light = match field.light {
                Lit::Side(axis) => axis,
                Lit::Around => -1.0,
                Lit::Unknown => -2.0,
            };
            let lens = field.lens_residual.unwrap_or(-1.0);
            for number in [field.width_mm, field.height_mm, field.mm_per_px, field.blur_px, light, lens] {
                self.number(number);
            }
            self.number(field.station as f64);
        }
        // Names of stations stand in the words of the sensitivity.
        geometry.stations.iter().for_each(|name| self.text(name));
    }
}

/// Key of the engine for a geometry with plain forward models.
pub(crate) fn key_of(geometry: &Geometry, options: &Options) -> String {
    let mut hash = Fingerprint::default();
    hash.text(VERSION);
    hash.text(&options.seed.to_string());
    hash.number(options.objects_per_finish as f64);
    hash.number(f64::from(u8::from(options.sensitivity)));
    // Every constant of the tracer's model, as it is printed.
    hash.text(&format!("{:?}", Tracer::MEASURED));
    for finish in Finish::all() {
        hash.text(finish.name());
        hash.parameters(finish.model().parameters());
    }
    hash.parameters(common_parameters());
    hash.parameters(Wear::parameters());
    hash.parameters(&nuisance::PARAMETERS);
    hash.geometry(geometry);
    hash.hex()
}

/// Key of the same engine with its forward models changed by panels of this fingerprint.
pub(crate) fn with_panels(key: &str, panels: &str) -> String {
    format!("{key}-{panels}")
}

/// Whether an engine of this name was trained for the geometry and options of `key`, with whatever panels.
pub(crate) fn belongs(name: &str, key: &str) -> bool {
    name.strip_prefix(key).is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
}
