//! Checks that see the whole house: published values, the end-to-end job, hostile input.
