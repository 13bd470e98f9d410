//! Findings, figures, one-file HTML, PDF and tables; no clock, no disk.
