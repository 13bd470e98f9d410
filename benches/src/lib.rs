//! Benchmarks, evaluation tables and the training program.
