//! The command line.

use std::path::PathBuf;

use clap::builder::PossibleValue;
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

use crate::documents::teaching::Taken;

/// Checks, draws and documents an extra-low-voltage wiring job from one job file.
#[derive(Parser)]
#[command(
    name = "bellwire",
    version,
    arg_required_else_help = true,
    subcommand_required = true,
    max_term_width = 100
)]
#[command(
    after_help = "Exit status of check: 0 nothing above a warning, 1 an error or a danger was found; with --strict 1 \
    for a warning too.\nOf the others: 0 what was asked for is written, whatever the check found; with --strict 1 as \
    for check --strict.\nOf all: 2 the file or the command could not be used.\nA job file `-` is standard input."
)]
pub(super) struct Args {
    #[command(subcommand)]
    pub(super) verb: Verb,
}

#[derive(Subcommand)]
pub(super) enum Verb {
    /// Check a job and list what is wrong with it
    Check(Check),
    /// Draw the connection diagram of a job, with its terminal schedule
    #[command(after_help = "Every drawing is read back from its own lines before it is written.")]
    Draw(Draw),
    /// Write a table of a job: terminals, cables, parts to order or wire markers
    Schedule(Schedule),
    /// Write the test sheet of a job, or hold a filled-in one against it
    #[command(
        after_help = "No result is ever filled in. Limits that are our own choice are told in docs/documents/tests.md."
    )]
    Tests(Tests),
    /// Write what each device must be set to, held against the wiring
    Settings(OneTable),
    /// Write the fault-finding chart: for every single fault what is seen, and which reading tells it from others
    Faults(OneTable),
    /// Write everything that the job leaves behind: a folder, a .zip, or the page alone
    #[command(
        after_help = "The page is one file for a phone on site: it fetches nothing and needs no other program."
    )]
    Pack(Pack),
    /// Show the page of a job in a browser on this machine, and anew whenever the job file is saved
    #[command(after_help = "Nothing is written, and no other machine is answered. Ctrl-C ends it.")]
    Preview(Preview),
    /// Make an exercise of a job: a sheet with things taken away, its key, and an answer file to fill in
    #[command(
        after_help = "Beside NAME.svg stand its further sheets NAME-2.svg and so on, the key NAME-key.svg, and \
        NAME-answer.yaml to fill in and NAME-key.yaml: bellwire mark NAME-answer.yaml --model NAME-key.yaml."
    )]
    Teach(Teach),
    /// Mark a trainee's answer, or a folder of answers, against the model
    #[command(
        after_help = "An answer of a folder that cannot be read has a row that says why; the others are marked, and the \
        exit status is 2."
    )]
    Mark(Mark),
    /// Hold what was built against what was designed
    Compare(Compare),
    /// Explain a rule, or list all rules
    Explain {
        /// The rule's name, such as short-circuit
        rule: Option<String>,
    },
    /// List the device and cable types that the program ships, or show one
    Library(Library),
    /// Write a short job file to start from
    New {
        /// Where it goes (`-` is standard output); a file that exists is never overwritten
        file: PathBuf,
    },
    /// Print a completion script for a shell
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print the manual page of the program (roff)
    #[command(hide = true)]
    Man,
}

#[derive(ClapArgs)]
pub(super) struct Check {
    #[command(flatten)]
    pub(super) job: JobFile,
    /// How to list the findings
    #[arg(long, value_enum, default_value_t = Listing::Human)]
    pub(super) format: Listing,
}

#[derive(ClapArgs)]
pub(super) struct Draw {
    #[command(flatten)]
    pub(super) job: JobFile,
    /// Where it goes: .svg, .png, .pdf or .json; `-` is standard output. Further sheets go to NAME-2.svg and so on, those of a PDF into it
    #[arg(short, long, value_name = "FILE", required_unless_present = "verify")]
    pub(super) output: Option<PathBuf>,
    /// The format, where the file's ending does not say it
    #[arg(long, value_enum)]
    pub(super) format: Option<Picture>,
    /// Dots an inch of a PNG
    #[arg(long, default_value_t = 150.0, value_name = "N", value_parser = dots, allow_negative_numbers = true)]
    pub(super) dpi: f64,
    /// Put the diagram, its notes and its schedule on a single sheet as large as needed, for measuring and plotting
    #[arg(long)]
    pub(super) one_sheet: bool,
    #[command(flatten)]
    pub(super) order: Order,
    /// Hold a drawing on disk against the job instead
    #[arg(long, value_name = "FILE.svg", conflicts_with_all = ["output", "format", "dpi", "one_sheet", "like"])]
    pub(super) verify: Option<PathBuf>,
}

/// In which order things stand on the drawing.
#[derive(ClapArgs)]
pub(super) struct Order {
    /// Keep the order of an earlier drawing of the job as far as it still allows it; only what is new finds a place. Holds
    /// for a diagram on one sheet
    #[arg(long, value_name = "EARLIER.svg")]
    pub(super) like: Option<PathBuf>,
}

/// The formats of a drawing.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Picture {
    /// Lines and text in millimetres
    Svg,
    /// A picture
    Png,
    /// All sheets in one file, for filing (PDF/A-2u)
    Pdf,
    /// Where everything stands, as numbers in millimetres
    Json,
}

fn dots(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(dots) if (10.0..=2400.0).contains(&dots) => Ok(dots),
        _ => Err("dots an inch go from 10 to 2400".to_owned()),
    }
}

/// The job file and how strict to be about it.
#[derive(ClapArgs)]
pub(super) struct JobFile {
    /// The job file; `-` is standard input
    #[arg(value_name = "JOB")]
    pub(super) file: PathBuf,
    /// Exit with status 1 where the check finds a warning or worse
    #[arg(long)]
    pub(super) strict: bool,
}

/// How findings are listed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Listing {
    /// The line of the file, what will happen, what to change
    Human,
    /// One JSON array
    Json,
}

#[derive(ClapArgs)]
pub(super) struct Library {
    /// The type's name, such as relay-module
    pub(super) name: Option<String>,
    /// Where its picture goes, as .svg or .png; without a name that of everything, sheet by sheet; of one
    /// type `-` is SVG on standard output
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Dots an inch of a .png
    #[arg(long, default_value_t = 150.0, value_name = "N", value_parser = dots, allow_negative_numbers = true)]
    pub(super) dpi: f64,
}

#[derive(ClapArgs)]
pub(super) struct Schedule {
    #[command(flatten)]
    pub(super) job: JobFile,
    /// Which table
    #[arg(value_enum)]
    pub(super) which: Which,
    /// Leave sheet and zone empty: nothing is laid out then, and a large job takes a fraction of the time
    #[arg(long)]
    pub(super) no_zones: bool,
    #[command(flatten)]
    pub(super) order: Order,
    #[command(flatten)]
    pub(super) to: TableTo,
}

#[derive(ClapArgs)]
pub(super) struct Tests {
    #[command(flatten)]
    pub(super) job: JobFile,
    #[command(flatten)]
    pub(super) to: TableTo,
    /// A test sheet as CSV with its last column filled in: say which readings are outside their limits
    #[arg(long, value_name = "FILE.csv", conflicts_with_all = ["output", "format"])]
    pub(super) readings: Option<PathBuf>,
}

#[derive(ClapArgs)]
pub(super) struct Pack {
    #[command(flatten)]
    pub(super) job: JobFile,
    /// Where it goes: a name ending in .html for the page alone, in .zip for one file, else a folder that does not
    /// exist yet
    #[arg(short, long, value_name = "WHERE")]
    pub(super) output: PathBuf,
    #[command(flatten)]
    pub(super) order: Order,
}

#[derive(ClapArgs)]
pub(super) struct Preview {
    /// The job file; standard input cannot be watched
    #[arg(value_name = "JOB")]
    pub(super) job: PathBuf,
    /// The port at which the browser finds it, from 1 to 65535; 0 is any that is free
    #[arg(long, default_value_t = 0, value_name = "N")]
    pub(super) port: u16,
    #[command(flatten)]
    pub(super) order: Order,
}

/// A verb that writes one table.
#[derive(ClapArgs)]
pub(super) struct OneTable {
    #[command(flatten)]
    pub(super) job: JobFile,
    #[command(flatten)]
    pub(super) to: TableTo,
}

/// Where a table goes.
#[derive(ClapArgs)]
pub(super) struct TableTo {
    /// Where it goes: .csv, .xlsx, .pdf, .md, .json or .txt; `-` is standard output
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// The format, where the file's ending does not say it
    #[arg(long, value_enum)]
    pub(super) format: Option<TableFormat>,
}

/// The tables.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Which {
    /// Every terminal: what it does, its core, where that goes
    Terminals,
    /// Every cable: type, length, from, to, cores
    Cables,
    /// What to order: devices, cable with an allowance, ferrules, splices
    Parts,
    /// What each wire marker says, one row a core end
    Markers,
    /// Every source: its amps, the worst that it must give, what draws it
    Supplies,
}

/// How a table is written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum TableFormat {
    /// Columns of plain text
    Txt,
    /// CSV; a cell that a spreadsheet would take for a formula has an apostrophe in front
    Csv,
    /// Markdown
    Md,
    /// JSON: an array of objects; of the fault-finding chart an object
    Json,
    /// A workbook; words stay words
    Xlsx,
    /// Sheets for filing (PDF/A-2u)
    Pdf,
}

#[derive(ClapArgs)]
pub(super) struct Mark {
    /// The answer, a job file; or a folder of answers
    #[arg(value_name = "ANSWER")]
    pub(super) answer: PathBuf,
    /// The job file that is right
    #[arg(long, value_name = "JOB")]
    pub(super) model: PathBuf,
    /// Where it goes: .txt or .json, the answer drawn with its differences as .svg, .png or .pdf; a folder's class table
    /// as .txt, .csv, .md or .json, with the mistakes beside it in NAME-mistakes, or both as .xlsx
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// The format, where the file's ending does not say it
    #[arg(long, value_enum)]
    pub(super) format: Option<MarkFormat>,
    /// Dots an inch of a PNG
    #[arg(long, default_value_t = 150.0, value_name = "N", value_parser = dots, allow_negative_numbers = true)]
    pub(super) dpi: f64,
}

/// How marks are written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum MarkFormat {
    /// Lines of text
    Txt,
    /// For machines
    Json,
    /// The answer drawn
    Svg,
    /// The answer as a picture
    Png,
    /// The answer drawn, for filing (PDF/A-2u)
    Pdf,
    /// The class table
    Csv,
    /// The class table
    Md,
    /// The class table and the mistakes, in one workbook
    Xlsx,
}

#[derive(ClapArgs)]
pub(super) struct Compare {
    /// The job file of the design
    #[arg(value_name = "DESIGN")]
    pub(super) design: PathBuf,
    /// The job file of what was built
    #[arg(value_name = "AS_BUILT")]
    pub(super) built: PathBuf,
    /// Where it goes: .txt, .md or .json; the as-built drawn with its changes as .svg, .png or .pdf
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// The format, where the file's ending does not say it
    #[arg(long, value_enum)]
    pub(super) format: Option<CompareFormat>,
    /// Dots an inch of a PNG
    #[arg(long, default_value_t = 150.0, value_name = "N", value_parser = dots, allow_negative_numbers = true)]
    pub(super) dpi: f64,
}

/// How changes are written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum CompareFormat {
    /// Columns of plain text
    Txt,
    /// Markdown
    Md,
    /// For machines
    Json,
    /// The as-built with its changes on it
    Svg,
    /// The same as a picture
    Png,
    /// The same for filing (PDF/A-2u)
    Pdf,
}

#[derive(ClapArgs)]
pub(super) struct Teach {
    /// The job file
    #[arg(value_name = "JOB")]
    pub(super) job: PathBuf,
    /// How much is taken away: 1 functions, 2 colours, 3 names, 4 some connections, 5 all connections, 6 mistakes to find, 7 one fault to find
    #[arg(long, default_value_t = 4, value_parser = clap::value_parser!(u8).range(1..=7))]
    pub(super) level: u8,
    /// What is taken away, by name
    #[arg(long, value_enum, conflicts_with = "level")]
    pub(super) take: Option<Taken>,
    /// One fault in the wiring, to be found with a meter: the same as `--take faults`
    #[arg(long, conflicts_with_all = ["level", "take"])]
    pub(super) faults: bool,
    /// Which of the many exercises: the same number gives the same one
    #[arg(long, default_value_t = 1, allow_negative_numbers = true)]
    pub(super) seed: u64,
    /// Where the first sheet goes: .svg or .png, everything else stands beside it; a .pdf holds all sheets, the key has
    /// its own
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: PathBuf,
    /// Dots an inch of a PNG
    #[arg(long, default_value_t = 150.0, value_name = "N", value_parser = dots, allow_negative_numbers = true)]
    pub(super) dpi: f64,
}

impl ValueEnum for Taken {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        let (name, help) = match self {
            Self::Functions => ("functions", "What the terminals do"),
            Self::Colours => ("colours", "The colours of the cores"),
            Self::Names => ("names", "The names of the devices"),
            Self::Some => ("some", "About half of the cables' connections"),
            Self::Connections => ("connections", "All connections of cables"),
            Self::Mistakes => ("mistakes", "Nothing; mistakes are to be found"),
            Self::Faults => ("faults", "Nothing; one fault is to be found with a meter"),
        };
        Some(PossibleValue::new(name).help(help))
    }
}

/// How the sheets of an exercise or of a drawing are written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SheetFormat {
    /// Lines and text in millimetres
    Svg,
    /// Pictures
    Png,
    /// All sheets in one file, for printing (PDF/A-2u)
    Pdf,
}
