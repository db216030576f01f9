//! The page as one HTML file that fetches nothing: its style and script stand in it, and its content policy allows
//! just these two.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::svg;
use crate::documents::faults::{AT_REST_ONLY, Chart};
use crate::documents::{Card, InHand, Page, Pin, Play, SWATCH};
use crate::drawing::paper_figure;
use crate::schedules::{Cell, Column, Table};

pub(super) const STYLE: &str = include_str!("page/page.css");
pub(super) const SCRIPT: &str = include_str!("page/page.js");

/// The views, by their ids and names.
const VIEWS: [(&str, &str); 6] = [
    ("where", "Where"),
    ("drawing", "Drawing"),
    ("effects", "Cause and effect"),
    ("tests", "Tests"),
    ("faults", "Faults"),
    ("notes", "Notes"),
];

/// The page, with the fault-finding chart and the sheets of the drawing as SVG.
#[must_use]
pub fn html(page: &Page, chart: &Chart, sheets: &[String]) -> String {
    PageBody::of(page, chart, sheets).alone()
}

/// What stands on the page, complete but for the head around it.
#[derive(Clone, Debug)]
pub struct PageBody {
    /// The title of the job.
    pub(super) title: String,
    /// The parts of the page, its script the last.
    pub(super) markup: Markup,
}

impl PageBody {
    /// The page, with the fault-finding chart and the sheets of the drawing as SVG.
    #[must_use]
    pub fn of(page: &Page, chart: &Chart, sheets: &[String]) -> Self {
        let markup = html! {
            header {
                h1 { (page.title) }
                p.head { (page.head) }
                @if let Some(faults) = &page.faulty {
                    p.faulty { span { "FAULTY: " (faults) ". Not for use; see Notes." } }
                }
            }
            nav aria-label="Views" {
                ul { @for (id, name) in VIEWS { li { a href={ "#" (id) } { (name) } } } }
            }
            main {
                (standing(page))
                (trace())
                (drawing(sheets))
                (effects(page))
                section #tests {
                    h2 { "Tests" }
                    p { "In this order. Write what was measured on the printed sheet or into the table of tests; nothing is filled in here." }
                    (table(&page.tests))
                }
                (faults(page, chart))
                (notes(page))
            }
            script #job type="application/json" { (PreEscaped(data(page))) }
            script { (PreEscaped(SCRIPT)) }
        };
        Self { title: page.title.clone(), markup }
    }

    /// The page as a file of its own.
    fn alone(&self) -> String {
        document(&self.title, &Inline { styles: &[STYLE], scripts: &[SCRIPT], asks: "" }, &self.markup)
    }
}

/// What a document holds within itself, and what it may ask for.
pub(super) struct Inline<'a> {
    /// Its styles.
    pub(super) styles: &'a [&'a str],
    /// Its scripts, which the body brings; no other may run.
    pub(super) scripts: &'a [&'a str],
    /// A further clause of its content policy, with a semicolon behind it.
    pub(super) asks: &'a str,
}

/// A whole document. Its content policy allows just the styles and scripts that are named.
pub(super) fn document(title: &str, inline: &Inline, body: &Markup) -> String {
    let hashes = |texts: &[&str]| {
        texts.iter().map(|text| format!(" 'sha256-{}'", hash(text))).collect::<Vec<_>>().concat()
    };
    let policy = format!(
        "default-src 'none'; style-src{}; script-src{}; {}base-uri 'none'; form-action 'none'",
        hashes(inline.styles),
        hashes(inline.scripts),
        inline.asks,
    );
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (title) }
                @for style in inline.styles { style { (PreEscaped(style)) } }
            }
            body { (body) }
        }
    };
    markup.into_string()
}

/// The hash of an inline text as a content policy names it.
pub(super) fn hash(text: &str) -> String {
    STANDARD.encode(Sha256::digest(text.as_bytes()))
}

/// What the place is called in which the loose cores are told.
const LOOSE: &str = "Spare cores and loose ends";

/// Where are you standing: places, their devices, their terminals.
fn standing(page: &Page) -> Markup {
    html! {
        section #where {
            div #start {
                h2 { "Where are you standing?" }
                div.search {
                    label for="search" { "Find a terminal, device or cable" }
                    input #search type="search" autocomplete="off" spellcheck="false";
                    p #found role="status" {}
                    ul #hits {}
                }
                ul.choices {
                    @for (n, place) in page.places.iter().enumerate() {
                        li { a href={ "#p" (n) } { b { (place.name) } (counted(place.cards.len(), "device")) } }
                    }
                    @if !page.loose.is_empty() {
                        li { a href="#loose" { b { (LOOSE) } (counted(page.loose.len(), "row")) } }
                    }
                }
            }
            @for (n, place) in page.places.iter().enumerate() {
                section.place #{ "p" (n) } aria-label=(place.name) {
                    a.back href="#where" { "← All places" }
                    h2 { (place.name) }
                    ul.choices {
                        @for card in &place.cards {
                            li { a href={ "#d" (card.device) } { b { (card.name) } (card.what) } }
                        }
                    }
                    @for card in &place.cards { (device(page, n, card)) }
                }
            }
            @if !page.loose.is_empty() { (loose(page)) }
        }
    }
}

/// The cores that are on no terminal, and so on no card.
fn loose(page: &Page) -> Markup {
    html! {
        section.place #loose aria-label=(LOOSE) {
            a.back href="#where" { "← All places" }
            h2 { (LOOSE) }
            ul.pins {
                @for (n, end) in page.loose.iter().enumerate() {
                    li.pin.loose #{ "l" (n) } {
                        span.name { (end.name) }
                        div {
                            div.function { (end.left) }
                            (in_hand(&end.in_hand))
                            @if let Some(stands) = &end.stands { div.quiet { "On the drawing: " (stands) } }
                        }
                    }
                }
            }
        }
    }
}

fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// The card of a device.
fn device(page: &Page, place: usize, card: &Card) -> Markup {
    html! {
        article.card #{ "d" (card.device) } {
            a.back href={ "#p" (place) } { "← Devices here" }
            h3 { (card.name) " " span.quiet { (card.what) } }
            @if !card.stands.is_empty() {
                p.quiet.spot { "On the drawing: " (card.stands.join("; ")) }
            }
            @for caution in &card.cautions { p.caution { (caution) } }
            @if !card.settings.is_empty() { p { "Set to: " (card.settings.join("; ")) } }
            ul.pins { @for pin in &card.terminals { (terminal(page, pin)) } }
        }
    }
}

fn terminal(page: &Page, pin: &Pin) -> Markup {
    let reading = page.rest.readings.get(pin.point).filter(|words| !words.is_empty());
    html! {
        li.pin #{ "t" (pin.point) } {
            span.name { (pin.name) }
            div {
                @if !pin.function.is_empty() { div.function { (pin.function) } }
                @for hand in &pin.in_hand { (in_hand(hand)) }
                @if let Some(left) = pin.left { div { (left) } }
                div.reading data-point=(pin.point) {
                    @if let Some(words) = reading { "At rest: " (words) }
                }
                @if !pin.in_hand.is_empty() {
                    a.back href={ "#trace-" (pin.point) } {
                        "Trace" span.quiet { " from " (page.points.get(pin.point).map_or("", String::as_str)) }
                    }
                }
            }
        }
    }
}

fn in_hand(hand: &InHand) -> Markup {
    let size = (SWATCH[1].x, 2.0 * SWATCH[1].y);
    html! {
        div.hand {
            @if !hand.swatch.is_empty() { (PreEscaped(svg::small(&hand.swatch, size))) }
            b { (hand.words) }
            span { "→ "
                @match hand.to_point {
                    Some(point) => { a href={ "#t" (point) } { (hand.to) } }
                    None => { (hand.to) }
                }
            }
            @if !hand.cable.is_empty() { span.cable { (hand.cable) } }
        }
    }
}

/// Filled in by the script.
fn trace() -> Markup {
    html! {
        section #trace hidden {
            a.back href="#where" { "← All places" }
            h2 { "Trace from " span #trace-from {} }
            p #trace-reading {}
            p { "One conductor: everything below is joined to it, hop by hop." }
            div #trace-walk {}
            p { button #to-drawing type="button" { "Show it on the drawing" } }
        }
    }
}

fn drawing(sheets: &[String]) -> Markup {
    html! {
        section #drawing {
            h2 { "Drawing" }
            p.state role="status" { "Shown at rest." }
            @for (n, sheet) in (1..).zip(sheets) {
                div.tools {
                    @if sheets.len() > 1 { span { "Sheet " (n) } }
                    button.nearer type="button" { "Nearer" span.quiet { " +" } }
                    button.further type="button" { "Further" span.quiet { " −" } }
                    button.whole type="button" { "Whole sheet" }
                }
                figure.sheet tabindex="0" role="group" aria-label={ "Sheet " (n) ", moved by the arrow keys" } {
                    (PreEscaped(sheet))
                }
            }
        }
    }
}

fn effects(page: &Page) -> Markup {
    html! {
        section #effects {
            h2 { "Cause and effect" }
            p.state role="status" { "Shown at rest." }
            @if page.plays.is_empty() { p { "The job file states none." } }
            ul.plays { @for (n, play) in page.plays.iter().enumerate() { (line(n, play)) } }
            p { button #rest type="button" { "Back to rest" } }
            div #played {
                h3 { "Cores that are live or carry current" }
                ul #live {}
            }
        }
    }
}

fn line(n: usize, play: &Play) -> Markup {
    html! {
        li {
            p { b { (play.when) } " → " (play.then.join(", ")) }
            @if !play.still { p.caution { "The relays never come to rest here." } }
            @if play.live.is_some() {
                button.play type="button" value=(n) aria-pressed="false" { "Play" span.quiet { " line " (n + 1) } }
            } @else {
                p.quiet { "The circuit alone does not tell this; watch for it on site." }
            }
        }
    }
}

/// The fault-finding chart: complaint, readings in order, bands of values, causes.
fn faults(page: &Page, chart: &Chart) -> Markup {
    html! {
        section #faults {
            h2 { "Faults" }
            p { "Choose what is seen. Take the readings in their order; the band in which a value lies says how to go on." }
            @if page.plays.is_empty() { p.caution { "Note: " (AT_REST_ONLY) "." } }
            @for group in &chart.groups {
                details {
                    summary { (group.complaint) }
                    @if group.readings.is_empty() {
                        ul { @for cause in &group.causes { li { (cause) } } }
                    }
                    ol {
                        @for reading in &group.readings {
                            li {
                                b { (reading.at) } ", " (reading.when) " (right: " (volts(reading.expect)) ")"
                                ul {
                                    @for band in &reading.bands {
                                        li { (volts(band.low)) " to " (volts(band.high)) ": " (group.found(band)) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Volts to a tenth, as close as a hand meter is read in a cupboard.
fn volts(value: f64) -> String {
    format!("{} V", super::number::written((value * 10.0).round() / 10.0 + 0.0))
}

fn notes(page: &Page) -> Markup {
    html! {
        section #notes {
            h2 { "Notes" }
            @for caution in &page.cautions { p.caution { (caution) } }
            @if !page.notes.is_empty() { ul { @for note in &page.notes { li { (note) } } } }
            h3 { "This job" }
            dl.facts { @for (name, value) in &page.facts { div { dt { (name) } dd { (value) } } } }
            h3 { "Found by the check" }
            @if page.findings.is_empty() { p { "Nothing." } }
            ul {
                @for found in &page.findings {
                    li { span.severity { (found.severity) } ": " (found.message) " " span.quiet { (found.fix) } }
                }
            }
        }
    }
}

/// A table; wide ones scroll inside their own frame, and on a narrow screen each row is a card. That takes the roles of
/// table, row and cell from the elements in some browsers, so they are stated.
fn table(table: &Table) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Table" {
            table role="table" {
                thead role="rowgroup" {
                    tr role="row" {
                        @for column in table.columns { th role="columnheader" scope="col" { (column.heading) } }
                    }
                }
                tbody role="rowgroup" {
                    @for row in &table.rows {
                        tr role="row" {
                            @for (column, cell) in table.columns.iter().zip(row) { (table_cell(column, cell)) }
                        }
                    }
                }
            }
        }
    }
}

fn table_cell(column: &Column, cell: &Cell) -> Markup {
    let number = matches!(cell, Cell::Number(_)).then_some("number");
    let words = match cell {
        Cell::Text(text) => text.clone(),
        Cell::Number(value) => paper_figure(*value),
        Cell::Blank => String::new(),
    };
    html! { td role="cell" class={ (column.name) " " (number.unwrap_or_default()) } data-head=(column.heading) { (words) } }
}

/// What the script needs, as JSON that no text can end early.
fn data(page: &Page) -> String {
    let live = |live: &crate::documents::Live| json!({ "readings": live.readings, "hops": live.hops });
    let hops: Vec<Value> = page
        .hops
        .iter()
        .map(|hop| json!({ "ends": hop.ends, "words": hop.words, "cable": hop.cable, "core": hop.core }))
        .collect();
    let plays: Vec<Value> = page
        .plays
        .iter()
        .map(|play| json!({ "when": play.when, "live": play.live.as_ref().map(live) }))
        .collect();
    let all = json!({ "points": page.points, "hops": hops, "rest": live(&page.rest), "plays": plays });
    all.to_string().replace('<', "\\u003c")
}
