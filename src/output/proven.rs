//! The only way from a drawing to bytes: it is read back from its own lines first.

use std::fmt;

use super::{About, NoPicture, geometry, pdf, png, svg};
use crate::drawing::{self, Drawing};
use crate::netlist::Job;
use crate::scene::Sheet;

/// A drawing whose sheets, read back from their own lines, say what the job says.
#[derive(Debug)]
pub struct Proven<'a> {
    drawing: &'a Drawing,
    texts: Vec<String>,
}

/// A drawing that does not say what the job says. The program is at fault, not the job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What differs, each in a sentence.
    pub differences: Vec<String>,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "bellwire is at fault: its drawing, read back from its own lines, is not this job; nothing was written"
        )?;
        for difference in &self.differences {
            write!(f, "\n  {difference}")?;
        }
        Ok(())
    }
}

impl<'a> Proven<'a> {
    /// Reads a drawing back.
    ///
    /// # Errors
    /// If it is not the job's.
    pub fn new(drawing: &'a Drawing, job: &Job) -> Result<Self, Fault> {
        let texts: Vec<String> = drawing.sheets.iter().map(svg).collect();
        let differences = drawing::read_back(&texts, job).unwrap_or_else(|why| vec![why]);
        if differences.is_empty() { Ok(Self { drawing, texts }) } else { Err(Fault { differences }) }
    }

    /// The sheets as SVG.
    #[must_use]
    pub fn svg(&self) -> &[String] {
        &self.texts
    }

    /// The sheets as PNG, at that many dots an inch.
    ///
    /// # Errors
    /// If a picture would be too large, or cannot be made.
    pub fn png(&self, dpi: f64) -> Result<Vec<Vec<u8>>, NoPicture> {
        self.texts.iter().zip(&self.drawing.sheets).map(|(text, sheet)| png(text, sheet.size, dpi)).collect()
    }

    /// The whole drawing as PDF, one page a sheet.
    ///
    /// # Errors
    /// If it cannot be made; the program is at fault.
    pub fn pdf(&self, about: &About) -> Result<Vec<u8>, String> {
        self.pdf_with(&[], about)
    }

    /// The whole drawing as PDF with pages after it.
    ///
    /// # Errors
    /// If it cannot be made; the program is at fault.
    pub fn pdf_with(&self, pages: &[Sheet], about: &About) -> Result<Vec<u8>, String> {
        let sheets: Vec<&Sheet> = self.drawing.sheets.iter().chain(pages).collect();
        pdf(&sheets, about)
    }

    /// The whole drawing as numbers, in JSON.
    #[must_use]
    pub fn geometry(&self) -> String {
        geometry(&self.drawing.sheets)
    }
}
