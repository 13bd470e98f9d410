//! Minerals, rocks, abrasives and tool materials, each value with its source.
