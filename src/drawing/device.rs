//! A device as it stands on a sheet, and a sheet with nothing but one device.

use crate::figure::Figure;
use crate::lettering::Height;
use crate::netlist::{Form, Job};
use crate::scene::{Dash, Fill, Group, M, Point, Rect, Role, Shape, Sheet, Text, Width};

/// The radius of the circle on which a conductor lands.
const LANDING: f64 = 0.9;

/// The room left round a device that has a sheet to itself, in millimetres.
const AROUND: f64 = 2.0 * M;

/// The outline, the inside and the landings of a device whose outline begins at `corner`.
pub(super) fn device(job: &Job, figure: &Figure, corner: Point) -> Group {
    let device = job.device(figure.device);
    let outline = Rect { x: corner.x, y: corner.y, w: f64::from(figure.w) * M, h: f64::from(figure.h) * M };
    let (role, width, fill) = match device.form {
        Form::Splice => (Role::Splice(device.name.to_string()), Width::Medium, Fill::Black),
        Form::Box | Form::Strip => (Role::Device(device.name.to_string()), Width::Medium, Fill::None),
    };
    let mut group = Group::new(role);
    group.shape(Shape::rect(outline, Some(width), Dash::Solid, fill));
    for shape in &figure.inside {
        group.shape(shape.moved(corner.x, corner.y));
    }
    for landing in &figure.landings {
        let terminal = job.terminal(landing.terminal).name.to_string();
        let mut circle = Group::new(Role::Landing { device: device.name.to_string(), terminal });
        let at = Point { x: corner.x + f64::from(landing.x) * M, y: corner.y + f64::from(landing.y) * M };
        let (radius, fill) = match device.form {
            Form::Splice => (LANDING / 2.0, Fill::Black),
            Form::Box | Form::Strip => (LANDING, Fill::White),
        };
        circle.shape(Shape::Circle { at, radius, width: Width::Normal, fill });
        group.group(circle);
    }
    group
}

/// Names of types have letters that reach below the line: they stand this much higher than designations.
const RAISED: f64 = 0.75;

/// A sheet just large enough for one device with its designation and title.
#[must_use]
pub fn device_sheet(job: &Job, figure: &Figure) -> Sheet {
    let entry = job.device(figure.device);
    let title = String::from(entry.title.clone().unwrap_or_default());
    let margin = figure.margin.map(|modules| f64::from(modules) * M);
    let head = Height::H3_5.mm() + RAISED - figure.title_at.y;
    let corner = Point { x: AROUND + margin[0], y: AROUND + head.max(margin[1]) };
    let (w, h) = (f64::from(figure.w) * M, f64::from(figure.h) * M);
    let mut label = Group::new(Role::Label(entry.name.to_string()));
    let at = Point { x: corner.x + figure.title_at.x, y: corner.y + figure.title_at.y - RAISED };
    let name = Text::new(&entry.name, at.x, at.y, Height::H3_5).bold();
    let beside = at.x + name.width() + M / 2.0;
    label.text(name);
    label.text(Text::new(&title, beside, at.y, Height::H1_8));
    Sheet {
        size: (
            corner.x + (w + margin[2]).max(figure.title_at.x + figure.title_width()) + AROUND,
            corner.y + h + margin[3] + AROUND,
        ),
        title: entry.name.to_string(),
        description: title,
        content: vec![device(job, figure, corner), label],
    }
}
