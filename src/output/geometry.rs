//! A drawing as numbers: millimetres from the top left corner of each sheet, names as in the job file.

use serde_json::{Value, json};

use crate::scene::{Ending, Group, Item, Rect, Role, Shape, Sheet, Stroke};

/// The JSON text of a whole drawing: for each sheet its size, devices with their terminals, cores with their points and
/// labels with the box of their ink (of their frame, if they have one).
#[must_use]
pub fn geometry(sheets: &[Sheet]) -> String {
    let sheets: Vec<Value> = sheets.iter().map(sheet).collect();
    format!("{:#}\n", json!({ "sheets": sheets }))
}

fn sheet(sheet: &Sheet) -> Value {
    let mut lists = Lists::default();
    for group in &sheet.content {
        lists.collect(group);
    }
    json!({
        "size": [round(sheet.size.0), round(sheet.size.1)],
        "devices": lists.devices,
        "cores": lists.cores,
        "labels": lists.labels,
    })
}

#[derive(Default)]
struct Lists {
    devices: Vec<Value>,
    cores: Vec<Value>,
    labels: Vec<Value>,
}

impl Lists {
    fn collect(&mut self, group: &Group) {
        match &group.role {
            Role::Device(name) | Role::Splice(name) => return self.device(name, group),
            Role::Core { cable, core, ends: [from, to] } => {
                if let Some(stroke) = group.shapes().find_map(stroke) {
                    let points: Vec<Value> =
                        stroke.points.iter().map(|p| json!([round(p.x), round(p.y)])).collect();
                    self.cores.push(json!({
                        "cable": cable, "core": core, "from": end(from), "to": end(to), "points": points,
                    }));
                }
            }
            Role::Label(of) => self.label(of, group),
            Role::Reference { cable, core } => self.label(&format!("{cable}.{core}"), group),
            Role::Flag(_) => self.label("", group),
            Role::Border | Role::Notes => {
                for shape in group.shapes() {
                    if let Shape::Text(text) = shape {
                        self.labels.push(label(&text.text, "", text.ink()));
                    }
                }
            }
            Role::TitleBlock | Role::Table(_) => return,
            Role::Diagram
            | Role::Location(_)
            | Role::Landing { .. }
            | Role::LooseEnd { .. }
            | Role::Lead { .. }
            | Role::Sheath(_) => {}
        }
        for inner in group.groups() {
            self.collect(inner);
        }
    }

    fn device(&mut self, name: &str, group: &Group) {
        let Some(outline) = group.shapes().next().and_then(Shape::bounds) else { return };
        let mut terminals = Vec::new();
        for landing in group.groups() {
            if let (Role::Landing { terminal, .. }, Some(Item::Shape(Shape::Circle { at, .. }))) =
                (&landing.role, landing.items.first())
            {
                terminals.push(json!({ "id": terminal, "x": round(at.x), "y": round(at.y) }));
            }
        }
        self.devices.push(json!({
            "id": name,
            "x": round(outline.x), "y": round(outline.y), "w": round(outline.w), "h": round(outline.h),
            "terminals": terminals,
        }));
    }

    /// The texts of a group. A frame is its first shape and belongs to the first of them.
    fn label(&mut self, of: &str, group: &Group) {
        let mut frame = None;
        for shape in group.shapes() {
            match shape {
                Shape::Text(text) => {
                    self.labels.push(label(&text.text, of, frame.take().unwrap_or_else(|| text.ink())));
                }
                other => frame = frame.or_else(|| other.bounds()),
            }
        }
    }
}

fn label(text: &str, of: &str, ink: Rect) -> Value {
    json!({
        "text": text, "of": of,
        "x": round(ink.x), "y": round(ink.y), "w": round(ink.w), "h": round(ink.h),
    })
}

fn stroke(shape: &Shape) -> Option<&Stroke> {
    if let Shape::Stroke(stroke) = shape { Some(stroke) } else { None }
}

fn end(end: &Ending) -> Value {
    match end {
        Ending::Landing { device, terminal } => json!([device, terminal]),
        Ending::Loose(way) => json!([null, way]),
        Ending::Away(to) => json!([null, to]),
    }
}

/// Thousandths of a millimetre; a whole number without a point.
fn round(value: f64) -> Value {
    let value = (value * 1000.0).round() / 1000.0;
    if value.fract() == 0.0 { json!(value as i64) } else { json!(value) }
}
