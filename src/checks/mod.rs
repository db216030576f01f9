//! The rules, one file each, and their registry.
