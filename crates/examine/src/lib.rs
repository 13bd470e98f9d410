//! The job as functions with progress and cancel: add, measure, compare, weigh, report, package.
