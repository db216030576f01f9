//! YAML to located values: every fault of the text with its place, nearest-name suggestions.
