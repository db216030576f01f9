//! Sheets of shapes: diagram, frame, title block, tables; and the read-back.
