//! What the job leaves behind besides its drawing and schedules: the test sheet, the settings record, the fault-finding chart,
//! the page for whoever stands on site; exercises with their keys and the marking of answers; what changed between two jobs.
//!
//! Every figure comes from the job by way of the circuit and its solver; no result of a test is ever filled in.

pub mod faults;
mod page;
mod settings;
pub mod changes;
mod gained;
pub mod marking;
mod spread;
mod stand;
pub mod teaching;
mod test_sheet;

pub use page::{Card, Found, Hop, InHand, Live, Page, Pin, Place, Play, SWATCH, page};
pub use settings::{Agrees, SettingRow, settings, settings_table};
pub use stand::{Pose, Probe, Spread, Stand};
pub use test_sheet::{Expect, Judged, Kind, Test, Verdict, judge, tests, tests_table};
