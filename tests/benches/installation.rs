//! Large invented installations as job files: correct wirings, so that a check goes all the way.
//!
//! A building has panels; each has a supply, a fuse, a strip for plus and one for 0 V, and circuits out into the
//! rooms, of three kinds: a limit switch that pulls in a relay that lights a lamp; an NPN sensor on a module that sounds a
//! siren; a motion detector whose two contacts hold a relay in.

use std::fmt::Write as _;

/// How the panels hang together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Each panel stands alone.
    Islands,
    /// One conductor joins the 0 V of all panels: all that can be searched is one system.
    CommonZero,
    /// One supply feeds all panels by way of a main strip.
    OneSupply,
    /// Pairs of strips in long lines, a lamp at each.
    Chains,
    /// Relays in rings, each locked out by a contact of either neighbour.
    Interlocks,
}

/// All shapes.
pub const SHAPES: [Shape; 5] =
    [Shape::Islands, Shape::CommonZero, Shape::OneSupply, Shape::Chains, Shape::Interlocks];

/// A job file as it grows.
#[derive(Default)]
struct Draft {
    devices: String,
    cables: String,
    links: String,
    sheets: String,
    device_count: usize,
    core_count: usize,
    cable_count: usize,
    seed: u64,
}

/// A job, and what it counts.
pub struct Installation {
    /// The job file.
    pub text: String,
    /// Its devices.
    pub devices: usize,
    /// Its cores, spare ones among them.
    pub cores: usize,
}

impl Installation {
    /// An installation of at least so many devices.
    #[must_use]
    pub fn of(shape: Shape, devices: usize, seed: u64) -> Self {
        let mut draft = Draft { seed: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1, ..Draft::default() };
        match shape {
            Shape::Chains => draft.chains(devices),
            Shape::Interlocks => draft.rings(devices),
            _ => draft.panels(shape, devices),
        }
        draft.finish(shape)
    }

    /// So many relays, each locked out by a break contact of every other one of its group.
    #[must_use]
    pub fn interlocked(relays: usize, group: usize) -> Self {
        let mut draft = Draft { seed: 1, ..Draft::default() };
        draft.supply("0", "5", "Panel", relays + 1, "10 A");
        for n in 0..relays {
            let first = n / group * group;
            let others: Vec<(usize, usize)> = (first..relays.min(first + group))
                .filter(|other| *other != n)
                .map(|other| (other, n - first - usize::from(n > other)))
                .collect();
            draft.locked_relay("0", n, n, &others);
        }
        draft.data_sheet(group - 1);
        draft.finish(Shape::Interlocks)
    }
}

impl Draft {
    /// A number below `most`.
    fn below(&mut self, most: u64) -> u64 {
        self.seed ^= self.seed << 13;
        self.seed ^= self.seed >> 7;
        self.seed ^= self.seed << 17;
        self.seed % most
    }

    fn device(&mut self, line: &str) {
        self.device_count += 1;
        let _ = writeln!(self.devices, "  {line}");
    }

    fn cable(&mut self, kind: &str, metres: &str, cores: &[(&str, &str)]) {
        self.cable_count += 1;
        self.core_count += cores.len();
        let _ = write!(self.cables, "  W{}: {{type: {kind}, length: {metres} m, cores: {{", self.cable_count);
        for (n, (colour, ends)) in cores.iter().enumerate() {
            let comma = if n == 0 { "" } else { ", " };
            let _ = write!(self.cables, "{comma}{colour}: {ends}");
        }
        self.cables.push_str("}}\n");
    }

    fn link_ways(&mut self, strip: &str, ways: usize) {
        for way in 1..ways {
            let _ = writeln!(self.links, "  - [{strip}.{way}, {strip}.{}]", way + 1);
        }
    }

    /// A supply `G` and its fuse `F`, and the strips `XP` and `XN`, the first way of each taken.
    fn supply(&mut self, name: &str, fuse: &str, location: &str, ways: usize, amps: &str) {
        self.device(&format!(
            "G{name}: {{type: dc-supply, volts: 24 V, amps: {amps}, location: {location}}}"
        ));
        self.strips(name, fuse, location, ways);
        let (red, black) = (format!("[G{name}.V+, F{name}.1]"), format!("[G{name}.V-, XN{name}.1]"));
        self.cable("twin-1.5", "0.4", &[("red", &red), ("black", &black)]);
    }

    fn strips(&mut self, name: &str, fuse: &str, location: &str, ways: usize) {
        self.device(&format!("F{name}: {{type: fuse, amps: {fuse} A, location: {location}}}"));
        self.device(&format!("XP{name}: {{type: terminal-strip, ways: {ways}, location: {location}}}"));
        self.device(&format!("XN{name}: {{type: terminal-strip, ways: {ways}, location: {location}}}"));
        self.cable("single-1.5", "0.2", &[("red", &format!("[F{name}.2, XP{name}.1]"))]);
        self.link_ways(&format!("XP{name}"), ways);
        self.link_ways(&format!("XN{name}"), ways);
    }

    fn panels(&mut self, shape: Shape, devices: usize) {
        const CIRCUITS: usize = 6;
        const WAYS: usize = 2 * CIRCUITS + 3;
        let mains = devices / 24 + 2;
        if shape == Shape::OneSupply {
            self.supply("M", "900", "Plant room", mains + 1, "1000 A");
        }
        let mut panel = 0;
        while self.device_count < devices {
            let name = panel.to_string();
            let location = format!("Hall {}/Panel {panel}", 1 + panel / 8);
            if shape == Shape::OneSupply {
                self.strips(&name, "1", &location, WAYS);
                let way = panel + 2;
                let (red, black) = (format!("[XPM.{way}, F{name}.1]"), format!("[XNM.{way}, XN{name}.1]"));
                self.cable("twin-2.5", "12", &[("red", &red), ("black", &black)]);
            } else {
                self.supply(&name, "1", &location, WAYS, "5 A");
            }
            if shape == Shape::CommonZero && panel > 0 {
                let black = format!("[XN{}.{WAYS}, XN{panel}.{}]", panel - 1, WAYS - 1);
                self.cable("single-2.5", "15", &[("black", &black)]);
            }
            for circuit in 0..CIRCUITS {
                let metres = (4 + self.below(20)).to_string();
                self.circuit(&name, circuit, &location, &metres);
            }
            panel += 1;
        }
    }

    /// Two ways of either strip, one circuit.
    fn circuit(&mut self, panel: &str, n: usize, location: &str, metres: &str) {
        let id = format!("{panel}-{n}");
        let (first, second) = (2 * n + 2, 2 * n + 3);
        let room = format!("Hall/Room {panel}");
        let (plus, zero) = (format!("XP{panel}"), format!("XN{panel}"));
        match self.below(3) {
            0 => {
                self.device(&format!("B{id}: {{type: limit-switch, location: {room}}}"));
                self.device(&format!(
                    "K{id}: {{type: relay, volts: 24 V, amps: 20 mA, location: {location}}}"
                ));
                self.device(&format!(
                    "D{id}: {{type: diode, across: [K{id}.A1, K{id}.A2], location: {location}}}"
                ));
                self.device(&format!("H{id}: {{type: lamp, volts: 24 V, watts: 1 W, location: {room}}}"));
                let (red, black) = (format!("[{plus}.{first}, B{id}.COM]"), format!("[K{id}.A1, B{id}.NO]"));
                let spare = [("blue", "taped"), ("white", "taped")];
                self.cable(
                    "alarm-4x0.22",
                    metres,
                    &[("red", &red), ("white", &black), ("black", "taped"), spare[0]],
                );
                self.cable("single-0.5", "0.3", &[("black", &format!("[{zero}.{first}, K{id}.A2]"))]);
                self.cable("single-0.5", "0.3", &[("red", &format!("[{plus}.{second}, K{id}.11]"))]);
                let (red, black) = (format!("[K{id}.14, H{id}.1]"), format!("[{zero}.{second}, H{id}.2]"));
                self.cable("alarm-4x0.22", metres, &[("red", &red), ("black", &black), spare[0], spare[1]]);
            }
            1 => {
                self.device(&format!(
                    "B{id}: {{type: sensor-npn, volts: 10..30 V, amps: 10 mA, location: {room}}}"
                ));
                self.device(&format!(
                    "K{id}: {{type: relay-module, location: {location}, unused: {{IN2: taped, COM2: taped, NO2: taped}}}}"
                ));
                self.device(&format!("H{id}: {{type: siren, volts: 24 V, amps: 40 mA, location: {room}}}"));
                let (brown, blue) = (format!("[XJ{id}, B{id}.BN]"), format!("[XI{id}, B{id}.BU]"));
                self.device(&format!("XJ{id}: {{type: splice, location: {location}}}"));
                self.device(&format!("XI{id}: {{type: splice, location: {location}}}"));
                let signal = format!("[K{id}.IN1, B{id}.BK]");
                let cores =
                    [("red", brown.as_str()), ("blue", "taped"), ("white", &signal), ("black", &blue)];
                self.cable("alarm-4x0.22", metres, &cores);
                let (red, black) = (format!("[XJ{id}, K{id}.+V]"), format!("[XI{id}, K{id}.0V]"));
                self.cable("twin-0.5", "0.3", &[("red", &red), ("black", &black)]);
                let (red, black) = (format!("[{plus}.{first}, XJ{id}]"), format!("[{zero}.{first}, XI{id}]"));
                self.cable("twin-0.5", "0.3", &[("red", &red), ("black", &black)]);
                self.cable("single-0.5", "0.3", &[("red", &format!("[{plus}.{second}, K{id}.COM1]"))]);
                let (red, black) = (format!("[K{id}.NO1, H{id}.V+]"), format!("[{zero}.{second}, H{id}.V-]"));
                let cores = [("red", red.as_str()), ("black", &black), ("blue", "taped"), ("white", "taped")];
                self.cable("alarm-4x0.22", metres, &cores);
            }
            _ => {
                self.device(&format!(
                    "B{id}: {{type: motion-detector, volts: 9..28 V, amps: 15 mA, location: {room}}}"
                ));
                self.device(&format!("K{id}: {{type: relay, volts: 24 V, amps: 20 mA, location: {location}, unused: [11, 12, 14]}}"));
                self.device(&format!(
                    "D{id}: {{type: diode, across: [K{id}.A1, K{id}.A2], location: {location}}}"
                ));
                let red = format!("[{plus}.{first}, B{id}.V+]");
                let black = format!("[{zero}.{first}, B{id}.V-]");
                let (white, blue) =
                    (format!("[{plus}.{second}, B{id}.ALM1]"), format!("[K{id}.A1, B{id}.TMP2]"));
                let cores = [
                    ("red", red.as_str()),
                    ("black", &black),
                    ("white", &white),
                    ("blue", &blue),
                    ("green", "taped"),
                    ("yellow", "taped"),
                ];
                self.cable("alarm-6x0.22", metres, &cores);
                self.cable("single-0.5", "0.1", &[("white", &format!("[B{id}.ALM2, B{id}.TMP1]"))]);
                self.cable("single-0.5", "0.3", &[("black", &format!("[{zero}.{second}, K{id}.A2]"))]);
            }
        }
    }

    /// Lines of strips, each with a lamp on it.
    fn chains(&mut self, devices: usize) {
        const LINE: usize = 100;
        let mut line = 0;
        while self.device_count < devices {
            let name = line.to_string();
            self.supply(&name, "2", &format!("Row {line}"), 2, "5 A");
            let (mut plus, mut zero) = (format!("XP{line}.2"), format!("XN{line}.2"));
            for n in 0..LINE {
                let id = format!("{line}-{n}");
                let location = format!("Row {line}/Bay {}", n / 10);
                self.device(&format!("X{id}: {{type: terminal-strip, ways: 4, location: {location}}}"));
                self.device(&format!(
                    "H{id}: {{type: indicator, volts: 24 V, amps: 8 mA, location: {location}}}"
                ));
                let _ = writeln!(self.links, "  - [X{id}.1, X{id}.2]\n  - [X{id}.3, X{id}.4]");
                let (red, black) = (format!("[{plus}, X{id}.1]"), format!("[{zero}, X{id}.3]"));
                self.cable("twin-2.5", "1.5", &[("red", &red), ("black", &black)]);
                let (red, black) = (format!("[X{id}.1, H{id}.V+]"), format!("[X{id}.3, H{id}.V-]"));
                self.cable("figure8-0.5", "0.5", &[("red", &red), ("black", &black)]);
                (plus, zero) = (format!("X{id}.2"), format!("X{id}.4"));
            }
            line += 1;
        }
    }

    /// Rings of relays; a push-button for each, and a break contact of either neighbour before its coil.
    fn rings(&mut self, devices: usize) {
        const RING: usize = 8;
        let mut ring = 0;
        while self.device_count < devices {
            let first = ring * RING;
            self.supply(&ring.to_string(), "1", &format!("Hall/Panel {ring}"), RING + 1, "5 A");
            for n in 0..RING {
                let at = |step: usize| first + (n + step) % RING;
                let others = [(at(1), 0), (at(RING - 1), 1)];
                self.locked_relay(&ring.to_string(), n, first + n, &others);
            }
            ring += 1;
        }
        self.data_sheet(2);
    }

    /// A relay with its push-button, on the way `n` of a panel's strips but one, behind a break contact of each of the
    /// others: a relay and the number of its pole.
    fn locked_relay(&mut self, panel: &str, n: usize, relay: usize, others: &[(usize, usize)]) {
        self.device(&format!("S{relay}: {{type: push-button-no, location: Hall/Desk {panel}}}"));
        self.device(&format!("K{relay}: {{type: interlock-relay, location: Hall/Panel {panel}}}"));
        let way = n + 2;
        let mut from = format!("S{relay}.14");
        self.cable("single-0.5", "6", &[("red", &format!("[XP{panel}.{way}, S{relay}.13]"))]);
        for (other, pole) in others {
            self.cable("single-0.5", "0.4", &[("white", &format!("[{from}, K{other}.C{pole}]"))]);
            from = format!("K{other}.B{pole}");
        }
        self.cable("single-0.5", "0.4", &[("white", &format!("[{from}, K{relay}.A1]"))]);
        self.cable("single-0.5", "0.4", &[("black", &format!("[XN{panel}.{way}, K{relay}.A2]"))]);
    }

    /// What a relay with so many break contacts is.
    fn data_sheet(&mut self, poles: usize) {
        self.sheets.push_str("data_sheets:\n  interlock-relay:\n    terminals: [A1, A2");
        for pole in 0..poles {
            let _ = write!(self.sheets, ", C{pole}, B{pole}");
        }
        self.sheets
            .push_str("]\n    coils: {C: {between: [A1, A2], volts: 24 V, amps: 20 mA, suppressed: true}}\n");
        self.sheets.push_str("    contacts:\n");
        for pole in 0..poles {
            let rating = "volts: 28 V, amps: 5 A, by: C";
            let _ = writeln!(self.sheets, "      P{pole}: {{common: C{pole}, nc: B{pole}, {rating}}}");
        }
    }

    fn finish(self, shape: Shape) -> Installation {
        let text = format!(
            "job: {{title: An invented installation, notes: ['Made by a program, {shape:?}']}}\ndevices:\n{}cables:\n{}links:\n{}{}",
            self.devices, self.cables, self.links, self.sheets
        );
        Installation { text, devices: self.device_count, cores: self.core_count }
    }
}
