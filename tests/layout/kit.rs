//! Jobs as text, for tests of layouts.

/// A job in the making: devices with plain terminals and cables between them.
#[derive(Default)]
pub struct Kit {
    pub devices: String,
    pub cables: String,
    pub links: Vec<String>,
    pub count: usize,
}

impl Kit {
    pub fn device(&mut self, name: &str, location: &str, terminals: usize) {
        let list: Vec<String> = (1..=terminals).map(|t| format!("T{t}")).collect();
        let location = if location.is_empty() { String::new() } else { format!("location: {location}, ") };
        self.devices += &format!("  {name}: {{{location}terminals: [{}]}}\n", list.join(", "));
    }

    pub fn part(&mut self, name: &str, kind: &str) {
        self.devices += &format!("  {name}: {{type: {kind}}}\n");
    }

    pub fn cable(&mut self, cores: &[(String, String)]) {
        self.count += 1;
        let one = |(i, (a, b)): (usize, &(String, String))| format!("c{}: [{a}, {b}]", i + 1);
        let cores: Vec<String> = cores.iter().enumerate().map(one).collect();
        self.cables += &format!("  W{}: {{length: 3 m, cores: {{{}}}}}\n", self.count, cores.join(", "));
    }

    pub fn text(&self) -> String {
        let devices =
            if self.devices.is_empty() { " {}\n".to_owned() } else { format!("\n{}", self.devices) };
        let cables = if self.cables.is_empty() { " {}\n".to_owned() } else { format!("\n{}", self.cables) };
        let links = if self.links.is_empty() {
            String::new()
        } else {
            format!("links: [{}]\n", self.links.join(", "))
        };
        format!("job: {{title: random}}\ndevices:{devices}cables:{cables}{links}")
    }
}

pub fn at(device: &str, terminal: usize) -> String {
    format!("{device}.T{terminal}")
}

/// Numbers that look random and are the same every time.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}
