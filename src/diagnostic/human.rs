//! Findings for people: the line of the file with a caret under it, what will happen on site, and what to change.

use std::borrow::Cow;
use std::io::{self, Write};
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Element, Group, Level, Origin, Renderer, Snippet};

use super::{Finding, Label, Severity, found};
use crate::source::{Sources, small};

/// Places of one file that are further apart than this are shown as separate extracts.
const LINES_TOGETHER: usize = 100;

/// The same in bytes, for files whose lines are very long.
const BYTES_TOGETHER: u32 = 8_000;

/// So much of a line is shown at most before and behind what is marked, and of what is marked, in bytes. Without the
/// bound a thousand findings on one line of megabytes take minutes.
const MARGIN: usize = 400;

/// Writes the findings one after the other, each followed by an empty line, those that the job accepts last; then one line
/// that counts them. `styled` adds colours for a terminal.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_human(
    out: &mut dyn Write,
    name: &str,
    findings: &[Finding],
    sources: &Sources,
    styled: bool,
) -> io::Result<()> {
    let renderer = if styled { Renderer::styled() } else { Renderer::plain() };
    let those = |accepted| findings.iter().filter(move |finding| finding.accepted.is_some() == accepted);
    for finding in those(false).chain(those(true)) {
        writeln!(out, "{}\n", renderer.render(&[report(finding, sources)]))?;
    }
    out.write_all(summary(name, findings).as_bytes())
}

/// The same as one text.
#[must_use]
pub fn human(name: &str, findings: &[Finding], sources: &Sources, styled: bool) -> String {
    let mut text = Vec::new();
    // Memory takes whatever is written to it.
    let _ = write_human(&mut text, name, findings, sources, styled);
    String::from_utf8(text).unwrap_or_default()
}

/// How many findings of each severity there are: `vent.yaml: 1 error, 2 notes.` and a line's end.
#[must_use]
pub fn summary(name: &str, findings: &[Finding]) -> String {
    format!("{name}: {}.\n", found(findings))
}

fn report<'a>(finding: &'a Finding, sources: &'a Sources) -> Group<'a> {
    let level = match finding.severity {
        Severity::Danger => Level::ERROR.with_name("danger"),
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let level = match finding.accepted {
        Some(_) => Level::NOTE.with_name(format!("accepted {}", finding.severity.word())),
        None => level,
    };
    let mut group =
        level.primary_title(finding.message.words()).id(finding.rule).elements(extracts(finding, sources));
    if let Some(state) = &finding.state {
        group = group.element(Level::NOTE.with_name("state").message(state.as_str()));
    }
    if let Some(reason) = &finding.accepted {
        return group.element(Level::NOTE.with_name("because").message(&**reason));
    }
    if finding.fix.is_empty() {
        return group;
    }
    group.element(Level::HELP.with_name("fix").message(&*finding.fix))
}

/// One extract for every run of places that stand close together, that of the main place first.
fn extracts<'a>(finding: &'a Finding, sources: &'a Sources) -> Vec<Element<'a>> {
    let mut runs: Vec<Vec<(usize, &Label)>> = Vec::new();
    for label in finding.labels.iter().enumerate() {
        let place = label.1.place;
        let line = line(sources, label.1);
        let near = runs.iter_mut().find(|run| {
            run.iter().any(|(_, other)| {
                other.place.file() == place.file()
                    && other.place.start.abs_diff(place.start) <= BYTES_TOGETHER
                    && self::line(sources, other).abs_diff(line) <= LINES_TOGETHER
            })
        });
        match near {
            Some(run) => run.push(label),
            None => runs.push(vec![label]),
        }
    }
    runs.iter().flat_map(|run| extract(run, sources)).collect()
}

fn line(sources: &Sources, label: &Label) -> usize {
    sources.file(label.place.file()).line_column(label.place.start).0
}

fn extract<'a>(run: &[(usize, &'a Label)], sources: &'a Sources) -> Vec<Element<'a>> {
    let Some((_, first)) = run.first() else { return Vec::new() };
    let file = sources.file(first.place.file());
    let text = &file.text;
    let spans: Vec<Range<usize>> = run.iter().map(|(_, label)| one_line(text, label.place.bytes())).collect();
    let marked = spans.iter().map(|span| span.start).min().unwrap_or(0);
    let end = spans.iter().map(|span| span.end).max().unwrap_or(0);
    let begin = text[..marked].rfind(ENDS).map_or(0, |at| at + 1);
    let start = text.floor_char_boundary(begin.max(marked.saturating_sub(MARGIN)));
    let shown = text.floor_char_boundary(text.len().min(end + MARGIN));
    let end = text[end..shown].find(ENDS).map_or(shown, |at| end + at);
    let (number, column) = file.line_column(first.place.start);
    let top = file.line_column(small(start)).0;
    let annotations = run.iter().zip(spans).map(|((order, label), span)| {
        let kind = if *order == 0 { AnnotationKind::Primary } else { AnnotationKind::Context };
        let text = Some(label.text.as_str()).filter(|text| !text.is_empty());
        kind.span(span.start - start..span.end - start).label(text)
    });
    let snippet = Snippet::source(in_lines(&text[start..end]))
        .line_start(top)
        .annotations(annotations.collect::<Vec<_>>());
    if start == begin {
        return vec![snippet.path(file.name.as_str()).into()];
    }
    // The columns of a line whose beginning is left out have to be told apart from it.
    vec![Origin::path(file.name.as_str()).line(number).char_column(column).into(), snippet.into()]
}

/// What ends a line.
const ENDS: [char; 2] = ['\n', '\r'];

/// A text whose lines all end as the renderer expects it, every place in it where it was: in some files a carriage return
/// alone ends a line.
fn in_lines(text: &str) -> Cow<'_, str> {
    if !text.contains('\r') {
        return Cow::Borrowed(text);
    }
    let mut rest = text.chars().peekable();
    let mut lines = String::with_capacity(text.len());
    while let Some(c) = rest.next() {
        lines.push(if c == '\r' && rest.peek() != Some(&'\n') { '\n' } else { c });
    }
    Cow::Owned(lines)
}

/// The stretch within the text and cut at the end of its first line, for a whole block under a caret shows nothing, and
/// where it is too long to be shown.
fn one_line(text: &str, span: Range<usize>) -> Range<usize> {
    let start = text.floor_char_boundary(span.start);
    let end = text.floor_char_boundary(span.end.clamp(start, start.saturating_add(MARGIN)));
    let end = text[start..end].find(ENDS).map_or(end, |at| start + at);
    start..start + text[start..end].trim_end().len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{NodeId, Place};

    fn finding(sources: &mut Sources, text: &str, spans: &[(u32, u32)]) -> Finding {
        let file = sources.add("job.yaml", text);
        let mut finding = Finding::new("short-circuit", Severity::Error, "G1 is shorted", "break the path");
        for (start, end) in spans {
            finding = finding.at(Place::new(file, NodeId(0), *start..*end), "here");
        }
        finding
    }

    #[test]
    fn a_place_over_several_lines_is_marked_on_its_first() {
        let mut sources = Sources::new();
        let finding = finding(&mut sources, "a: 1\r\nb:\r\n  c: 2\r\n", &[(6, 16)]);
        let text = human("job.yaml", &[finding], &sources, false);
        assert_eq!(
            text,
            "error[short-circuit]: G1 is shorted\n --> job.yaml:2:1\n  |\n2 | b:\n  | ^^ here\n  |\n  = fix: break the \
             path\n\njob.yaml: 1 error.\n"
        );
    }

    #[test]
    fn a_carriage_return_alone_ends_a_line_too() {
        let told = |text: &str, spans: &[(u32, u32)]| {
            let mut sources = Sources::new();
            let finding = finding(&mut sources, text, spans);
            human("job.yaml", &[finding], &sources, false)
        };
        let text = "a: 1\nb: 2\nc: 3\n";
        for spans in [&[(8, 9)][..], &[(8, 9), (3, 4)], &[(13, 14), (0, 1)]] {
            assert_eq!(told(&text.replace('\n', "\r"), spans), told(text, spans));
        }
        assert!(told("a: 1\rb: 2\r", &[(8, 9)]).contains("job.yaml:2:4\n  |\n2 | b: 2\n"));
    }

    #[test]
    fn places_that_lie_outside_the_text_do_not_trip_it() {
        let mut sources = Sources::new();
        let finding = finding(&mut sources, "é", &[(1, 900), (400, 2)]);
        assert!(human("job.yaml", &[finding], &sources, false).contains("job.yaml:1:1"));
    }

    #[test]
    fn far_places_get_their_own_extract() {
        let mut sources = Sources::new();
        let text = "a: 1\n".repeat(1000);
        let finding = finding(&mut sources, &text, &[(4000, 4001), (0, 1)]);
        let text = human("job.yaml", &[finding], &sources, false);
        assert!(text.lines().count() < 16, "{text}");
        assert!(text.contains("800 |") || text.contains("801 |"), "{text}");
    }

    #[test]
    fn of_a_very_long_line_a_part_is_shown_and_the_column_is_the_true_one() {
        let mut sources = Sources::new();
        let text = format!("a: [{}é, here{}]\n", "x, ".repeat(100_000), ", y".repeat(100_000));
        let at = u32::try_from(text.find("here").unwrap_or(0)).unwrap_or(0);
        let finding = finding(&mut sources, &text, &[(at, at + 4), (4, 5)]);
        let text = human("job.yaml", &[finding], &sources, false);
        assert!(text.len() < 4_000, "{}", text.len());
        // 4 characters before the list, 300 000 in it, `é, `, and from 1.
        assert!(text.contains("job.yaml:1:300008\n"), "{text}");
        assert!(text.contains("^^^^ here"), "{text}");
    }
}
