//! A part gets volts, or a kind of current, that it is not made for.
//!
//! ## On site
//!
//! Too many volts burn the part; with too few it stays dead or chatters. DC electronics on AC are destroyed.
//!
//! ## Why
//!
//! The range on the data sheet is the promise of the maker. A single figure there is taken with 0.85 to 1.20 times of it.
//!
//! ## Example
//!
//! ```yaml
//! devices:
//!   G1: {type: dc-supply, volts: 24 V, amps: 1 A}
//!   H1: {type: siren, volts: 12 V, amps: 0.3 A}       # on G1
//! ```
//!
//! ## Cure
//!
//! Use a supply of the right volts, a converter between, or the part's version for these volts. Where the data sheet
//! gives a range, write the range.
//!
//! ## Limits
//!
//! The source's nominal volts are compared, in series their sum. With a resistor or another part between, the volts that
//! the circuit gives are worked out and held against the upper end of the range only. What the cable loses is told by
//! `volt-drop`.
//!
//! ## Sources
//!
//! IEC 61131-2 for 0.85 to 1.20 times the nominal. The rest is common practice, no source.

use std::cell::OnceCell;
use std::collections::BTreeSet;

use crate::circuit::{Circuit, Feed, Landings};
use crate::netlist::{Active, Current, Draw, Job, Kind, Part, PartId, Takes, TerminalId};
use crate::units::{Rated, Volts};

use super::report::{Report, listed};
use super::{telling, unstated};

pub(super) fn run(job: &Job, circuit: &Circuit, report: &mut Report) {
    let landings = circuit.landings();
    let silent = Silent::new();
    let turned = report.told_by("reversed-polarity");
    let is_source =
        |(id, part): (PartId, &Part)| (matches!(part.kind, Kind::Source(_)) && !part.existing).then_some(id);
    let sources: Vec<PartId> = job.part_ids().filter_map(is_source).collect();
    for (id, part) in job.part_ids() {
        let (rated, takes, at) = match &part.kind {
            Kind::Load(load) => (load.volts, load.takes, load.plus),
            Kind::Coil(coil) => (coil.volts, if coil.polarised { Takes::Dc } else { Takes::Any }, coil.plus),
            Kind::Input(input) => {
                let takes = if input.active == Active::Either { Takes::Any } else { Takes::Dc };
                (input.volts, takes, input.at)
            }
            _ => continue,
        };
        let follows = part.kind.load_ends().is_some_and(|ends| beside_turned(job, id, ends, &turned));
        look(
            job,
            circuit,
            landings,
            id,
            Wants { rated, takes, at, follows, sources: &sources },
            &silent,
            report,
        );
    }
}

/// What a part is made for.
struct Wants<'s> {
    rated: Option<Rated>,
    takes: Takes,
    at: TerminalId,
    /// Whether a load beside it is fed the wrong way round, so that what it gets comes of that.
    follows: bool,
    /// The sources of the job.
    sources: &'s [PartId],
}

/// Whether another load that shares an end with a part is fed the wrong way round.
fn beside_turned(job: &Job, id: PartId, ends: [TerminalId; 2], turned: &BTreeSet<PartId>) -> bool {
    ends.iter().flat_map(|end| job.parts_on(*end)).any(|(other, _)| other != id && turned.contains(&other))
}

/// What it gets: by which sources, in which positions, by what path in words.
struct Gets {
    sources: Vec<PartId>,
    needs: Vec<crate::circuit::Need>,
    rectified: bool,
    parts: Vec<PartId>,
    from: Option<TerminalId>,
    to: TerminalId,
}

/// The parts that do not say what they draw, looked for where the first of them may matter.
type Silent = OnceCell<unstated::Branches>;

fn look(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    id: PartId,
    wants: Wants<'_>,
    silent: &Silent,
    report: &mut Report,
) {
    let name = job.part_label(id);
    let mut unknown = None;
    for gets in gets(job, circuit, id) {
        let ac = gets
            .sources
            .iter()
            .any(|source| matches!(&job.part(*source).kind, Kind::Source(s) if s.current == Current::Ac))
            && !gets.rectified;
        let from = telling::sources(job, &gets.sources);
        let wrong = match (wants.takes, ac) {
            (Takes::Dc, true) => Some(format!("{name} takes DC only and gets AC from {from}")),
            (Takes::Ac, false) => Some(format!("{name} takes AC only and gets DC from {from}")),
            _ => match (telling::volts(job, &gets.sources), wants.rated) {
                (Ok(volts), Some(rated)) => outside(volts, rated).map(|side| {
                    format!("{name} gets {} from {from}, too {side} for its {}", Volts(volts), rated.range)
                }),
                (Err(source), _) => {
                    let what = format!("{} has no volts", job.part_label(source));
                    unknown.get_or_insert((what, job.part(source).device));
                    None
                }
                (_, None) => {
                    // An input's data sheet seldom gives volts; for it their absence is no gap in the job file.
                    if !matches!(job.part(id).kind, Kind::Input(_)) {
                        unknown.get_or_insert((format!("{name} has no volts"), job.part(id).device));
                    }
                    None
                }
            },
        };
        let Some(wrong) = wrong else { continue };
        let Some((_, words)) = telling::comes_about(job, circuit, &gets.needs, wants.at, &gets.sources)
        else {
            continue;
        };
        let message = format!(
            "{wrong}{}: {}",
            telling::clause(words.as_deref()),
            telling::hops(job, circuit, &gets.needs, &gets.parts, gets.from, gets.to)
        );
        let draft = report.find(message, cure(job, &name, &wants));
        draft.at(telling::landing(job, landings, wants.at), "").about(wants.at).of(id);
        draft.follows = wants.follows;
        for source in gets.sources {
            draft.at(job.part(source).place, "").about(job.part(source).device);
        }
        if let Some(words) = words {
            draft.when(words);
        }
        return;
    }
    if by_other_parts(job, circuit, landings, id, &wants, silent, report) {
        return;
    }
    if let Some((missing, device)) = unknown {
        let place = job.device(device).place;
        report.not_checked(missing, "write `volts:` for it, as its label says").at(place, "").about(device);
    }
}

/// From what to feed a part: the one source of the job that gives what it takes, if there is but one and it has the amps.
fn cure(job: &Job, name: &str, wants: &Wants<'_>) -> String {
    let draws = job.parts_on(wants.at).find_map(|(_, part)| match &part.kind {
        Kind::Load(load) => load.draw,
        _ => None,
    });
    let fits = |id: &PartId| match (&job.part(*id).kind, wants.rated) {
        (Kind::Source(source), Some(rated)) => {
            let kind = match wants.takes {
                Takes::Any => true,
                Takes::Dc => source.current == Current::Dc,
                Takes::Ac => source.current == Current::Ac,
            };
            let enough = |volts: Volts| {
                let amps = draws.map(|draws| match draws {
                    Draw::Amps(amps) => amps.0,
                    Draw::Ohms(ohms) => volts.0 / ohms.0,
                    Draw::Watts(watts) => watts.0 / rated.nominal.0,
                });
                amps.zip(source.amps).is_none_or(|(draws, has)| draws <= has.0)
            };
            kind && source.volts.is_some_and(|volts| outside(volts.0, rated).is_none() && enough(volts))
        }
        _ => false,
    };
    let mut fitting = wants.sources.iter().copied().filter(fits);
    match (fitting.next(), fitting.next()) {
        (Some(source), None) => {
            format!(
                "feed {name} from {}, which gives what it takes, or correct its volts",
                job.part_label(source)
            )
        }
        _ => {
            let of = match wants.takes {
                Takes::Any => "a source",
                Takes::Dc => "a DC source",
                Takes::Ac => "an AC source",
            };
            format!("feed {name} from {of} that it is made for, or correct what its data sheet says")
        }
    }
}

/// What a part gets by way of a resistor or another part: whether it was told.
fn by_other_parts(
    job: &Job,
    circuit: &Circuit,
    landings: &Landings,
    id: PartId,
    wants: &Wants<'_>,
    silent: &Silent,
    report: &mut Report,
) -> bool {
    let name = job.part_label(id);
    let fix = cure(job, &name, wants);
    let is_ac =
        |source: &PartId| matches!(&job.part(*source).kind, Kind::Source(s) if s.current == Current::Ac);
    let diode = |parts: &[PartId]| parts.iter().any(|p| matches!(job.part(*p).kind, Kind::Diode(_)));
    let soft: Vec<&Feed> = circuit.feeds(id).ways.iter().filter(|feed| !feed.hard).collect();
    for feed in &soft {
        let ac = feed.sources.iter().any(is_ac) && !diode(&feed.parts);
        let wrong = match (wants.takes, ac) {
            (Takes::Dc, true) => "takes DC only and gets AC",
            (Takes::Ac, false) => "takes AC only and gets DC",
            _ => continue,
        };
        let Some(state) = circuit.sound(&feed.needs, wants.at).state() else { continue };
        let words = circuit.when(&feed.needs, &state);
        let message = format!(
            "{name} {wrong} from {} by way of {}{}",
            telling::sources(job, &feed.sources),
            between(job, &feed.parts),
            telling::clause(words.as_deref())
        );
        let draft = report.find(message, fix.clone());
        draft.at(telling::landing(job, landings, wants.at), "").about(wants.at).of(id);
        for source in &feed.sources {
            draft.at(job.part(*source).place, "").about(job.part(*source).device);
        }
        if let Some(words) = words {
            draft.when(words);
        }
        return true;
    }
    let Some(rated) = wants.rated else { return false };
    let survey = circuit.survey(job);
    let Some(worst) = survey.highest(id) else { return false };
    if survey.unstated(wants.at) {
        // Told of the part that is silent by the rules of current; here it is what the volts depend on.
        let silent = silent.get_or_init(|| unstated::Branches::of(job, circuit));
        let silent = silent.around(circuit, &job.part(id).kind.terminals());
        if !silent.is_empty() {
            silent.into_iter().for_each(|part| unstated::tell(job, part, report));
            return false;
        }
    }
    if worst.value.0 <= rated.range.high.0 + 1e-3 {
        return false;
    }
    let words = telling::at(circuit, &worst.state);
    let parts: Vec<PartId> = soft.iter().flat_map(|feed| &feed.parts).copied().collect();
    let by = if parts.is_empty() { "another part".to_owned() } else { between(job, &parts) };
    let message = format!(
        "{name} gets {} by way of {by}{}, too much for its {}",
        Volts((worst.value.0 * 10.0).round() / 10.0),
        telling::clause(words.as_deref()),
        rated.range
    );
    let draft = report.find(message, fix);
    draft.at(telling::landing(job, landings, wants.at), "").about(wants.at).of(id);
    if let Some(words) = words {
        draft.when(words);
    }
    true
}

/// The resistors, loads and coils among some parts, by their labels.
fn between(job: &Job, parts: &[PartId]) -> String {
    let soft =
        |id: &&PartId| matches!(job.part(**id).kind, Kind::Resistor(_) | Kind::Load(_) | Kind::Coil(_));
    let mut names: Vec<String> = parts.iter().filter(soft).map(|id| job.part_label(*id)).collect();
    names.sort();
    names.dedup();
    listed(&names.iter().map(String::as_str).collect::<Vec<_>>())
}

fn outside(volts: f64, rated: Rated) -> Option<&'static str> {
    // A thousandth of a volt covers the rounding of 0.85 and 1.20 times the nominal.
    if volts > rated.range.high.0 + 1e-3 {
        Some("much")
    } else if volts < rated.range.low.0 - 1e-3 {
        Some("little")
    } else {
        None
    }
}

/// The sources whose two poles reach the two poles of a part by hard paths.
fn gets(job: &Job, circuit: &Circuit, id: PartId) -> Vec<Gets> {
    let diode = |parts: &[PartId]| parts.iter().any(|p| matches!(job.part(*p).kind, Kind::Diode(_)));
    if let (Kind::Input(input), Some(signal)) = (&job.part(id).kind, circuit.signal(id)) {
        return signal
            .active
            .iter()
            .chain(&signal.inactive)
            .filter(|way| way.pole.1 != way.common.1)
            .filter_map(|way| Some((way, circuit.stack(way.common, way.pole)?)))
            .map(|(way, sources)| Gets {
                sources,
                needs: way.needs.clone(),
                rectified: diode(&way.parts),
                parts: way.parts.clone(),
                from: telling::pole(job, way.pole),
                to: input.at,
            })
            .collect();
    }
    let Some([plus, minus]) = job.part(id).kind.load_ends() else { return Vec::new() };
    let hard = circuit.feeds(id).ways.iter().filter(|feed| feed.hard);
    hard.map(|feed| Gets {
        sources: feed.sources.to_vec(),
        needs: feed.needs.to_vec(),
        rectified: diode(&feed.parts),
        parts: feed.parts.to_vec(),
        from: feed.sources.first().and_then(|source| telling::pole(job, (*source, feed.pole))),
        to: if feed.forward { plus } else { minus },
    })
    .collect()
}

/// The ways by which parts are fed that are told to get too many volts: what flows through these then says nothing of a right source.
pub(super) fn too_high<'c>(job: &Job, circuit: &'c Circuit, report: &Report) -> Vec<(PartId, &'c Feed)> {
    let parts = report.told_by("wrong-voltage");
    let feeds =
        parts.into_iter().flat_map(|part| circuit.feeds(part).ways.iter().map(move |feed| (part, feed)));
    let high = |(part, feed): &(PartId, &Feed)| {
        let rated = match &job.part(*part).kind {
            Kind::Load(load) => load.volts,
            Kind::Coil(coil) => coil.volts,
            _ => None,
        };
        let volts = telling::volts(job, &feed.sources).ok();
        rated.zip(volts).is_some_and(|(rated, volts)| volts > rated.range.high.0)
    };
    feeds.filter(high).collect()
}
