//! Bytes of SVG, PNG, CSV, Markdown and JSON. No electrical or layout knowledge.
