//! The page as it is served while a job is written: above it what the check says, in it a script that asks whether the
//! job was saved again. What is written to files has neither.

use maud::{Markup, PreEscaped, html};

use super::html::{Inline, PageBody, SCRIPT, STYLE, document, hash};

const REPORT_STYLE: &str = include_str!("page/served.css");
const FOLLOW: &str = include_str!("page/follow.js");

/// What is told above the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Report {
    /// The page is being made for the first time.
    Awaited,
    /// The page below is that of the job as it is saved.
    Shown {
        /// How much was found, in a line.
        summary: String,
        /// The findings as the command line lists them.
        text: String,
    },
    /// The job as it is saved has no page; this says why, as the command line does.
    Unusable(String),
}

/// A page ready to be sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Served {
    /// The document.
    pub html: String,
    /// A mark of what it says; another document has another.
    pub mark: String,
}

/// The page with a report above it. Beside the report that a job is unusable stands the last page that could be made, if
/// any.
#[must_use]
pub fn served(report: &Report, page: Option<&PageBody>) -> Served {
    let told = told(report, page.is_some());
    let below = page.map(|page| &page.markup);
    let mark = hash(&html! { (told) @if let Some(below) = below { (below) } }.into_string());
    let body = html! {
        aside #preview aria-label="Preview" data-mark=(mark) { (told) p #news role="status" {} }
        @if let Some(below) = below { (below) }
        script { (PreEscaped(FOLLOW)) }
    };
    let title = match (report, page) {
        (Report::Unusable(_), Some(page)) => format!("Unusable: {}", page.title),
        (Report::Unusable(_), None) => "Unusable".to_owned(),
        (_, Some(page)) => page.title.clone(),
        (_, None) => "Preview".to_owned(),
    };
    let inline =
        Inline { styles: &[STYLE, REPORT_STYLE], scripts: &[SCRIPT, FOLLOW], asks: "connect-src 'self'; " };
    Served { html: document(&title, &inline, &body), mark }
}

fn told(report: &Report, with_page: bool) -> Markup {
    let lines =
        |text: &str| html! { pre tabindex="0" role="region" aria-label="What the check says" { (text) } };
    match report {
        Report::Awaited => html! { p { "The page is being made …" } },
        Report::Shown { summary, text } => html! {
            details { summary { (summary) } (lines(text)) }
        },
        Report::Unusable(why) => html! {
            p #unusable.faulty role="alert" {
                span {
                    "The job cannot be used as it is saved now."
                    @if with_page { " Below stands its last good page." }
                }
            }
            (lines(why))
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_report_has_another_mark() {
        let unusable = |why: &str| served(&Report::Unusable(why.to_owned()), None);
        assert_eq!(unusable("line 1"), unusable("line 1"));
        assert_ne!(unusable("line 1").mark, unusable("line 2").mark);
        assert_ne!(served(&Report::Awaited, None).mark, unusable("").mark);
    }

    #[test]
    fn a_report_stays_text() {
        let page = served(&Report::Unusable("<script>broken</script>".to_owned()), None);
        assert!(page.html.contains("&lt;script&gt;broken"), "{}", page.html);
    }
}
