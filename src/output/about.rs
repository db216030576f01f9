//! What a file says of itself: properties of PDF and XLSX.

use crate::netlist::Info;

/// Properties of a document, from the head of its job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// `Roof vent controller: Test sheet`.
    pub title: String,
    /// Who made it: who drew it, else the owner; may be empty.
    pub author: String,
    /// Number, revision and site; may be empty.
    pub subject: String,
    /// The date of the job: year, month, day. A file bears no other date, so that the same job gives the same bytes; that
    /// of a job without one is the first day of 1980, since both formats insist on a date.
    pub date: (u16, u8, u8),
}

impl About {
    /// The properties of a document of that kind.
    #[must_use]
    pub fn of(info: &Info, kind: &str) -> Self {
        let author = info.drawn_by.as_ref().or(info.owner.as_ref()).cloned().unwrap_or_default();
        let revision = info.revision.as_ref().map(|revision| format!("revision {revision}"));
        let subject: Vec<&str> =
            [&info.number, &revision, &info.site].into_iter().flatten().map(String::as_str).collect();
        Self {
            title: format!("{}: {kind}", info.title),
            author,
            subject: subject.join(", "),
            date: info.date.as_deref().and_then(date).unwrap_or(UNDATED),
        }
    }
}

/// The date of what bears none: the first that every program can read.
const UNDATED: (u16, u8, u8) = (1980, 1, 1);

/// `2026-03-14`, or `14.3.2026`, since with dots the day comes first; `None` for a date that is written otherwise.
fn date(text: &str) -> Option<(u16, u8, u8)> {
    let dotted = text.contains('.');
    let mut parts: Vec<&str> = text.trim().split(if dotted { '.' } else { '-' }).collect();
    if dotted {
        parts.reverse();
    }
    let [year, month, day] = parts[..] else { return None };
    let (year, month, day): (u16, u8, u8) = (year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    let sound = (1900..=9999).contains(&year) && (1..=12).contains(&month) && (1..=31).contains(&day);
    sound.then_some((year, month, day))
}

#[cfg(test)]
mod tests {
    use super::date;

    #[test]
    fn dates_with_hyphens_or_dots_are_dates() {
        assert_eq!(date("2026-03-14"), Some((2026, 3, 14)));
        assert_eq!(date("14.3.2026"), Some((2026, 3, 14)));
        assert_eq!(date("03.11.2026"), Some((2026, 11, 3)));
        for text in [
            "14.13.2026",
            "3/11/2026",
            "2026.3.14",
            "2026-13-01",
            "2026-03",
            "2026-03-14-1",
            "today",
            "2026-00-10",
            "2026-01-00",
        ] {
            assert_eq!(date(text), None, "{text}");
        }
    }
}
