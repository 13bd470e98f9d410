//! Processor time and memory of this process, as Linux counts them.

use std::fs;

/// Seconds of processor time used so far by all threads; 0 where the system does not say.
#[must_use]
pub fn cpu_seconds() -> f64 {
    let Ok(stat) = fs::read_to_string("/proc/self/stat") else { return 0.0 };
    // Fields after the parenthesised name: user and system time are the 12th and 13th, in hundredths of a second.
    let fields: Vec<f64> =
        stat.rsplit(')').next().unwrap_or("").split_whitespace().map(|f| f.parse().unwrap_or(0.0)).collect();
    (fields.get(11).unwrap_or(&0.0) + fields.get(12).unwrap_or(&0.0)) / 100.0
}

/// Largest memory held so far, MB; 0 where the system does not say.
#[must_use]
pub fn peak_megabytes() -> f64 {
    let Ok(status) = fs::read_to_string("/proc/self/status") else { return 0.0 };
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next())
        .and_then(|kb| kb.parse::<f64>().ok())
        .map_or(0.0, |kb| kb / 1024.0)
}
