//! The numbers by which the things of a job name one another.

use crate::diagnostic::Subject;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);

        impl $name {
            /// The index in its vector.
            #[must_use]
            pub fn index(self) -> usize {
                self.0 as usize
            }
        }
    )*};
}

ids! {
    /// A device: index in [`super::Job::devices`].
    DeviceId,
    /// A terminal: index in [`super::Job::terminals`].
    TerminalId,
    /// An entry of a device's sections: index in [`super::Job::parts`].
    PartId,
    /// A cable: index in [`super::Job::cables`].
    CableId,
    /// A core: index in [`super::Job::cores`].
    CoreId,
    /// A jumper: index in [`super::Job::links`].
    LinkId,
}

macro_rules! subjects {
    ($($id:ident $subject:ident,)*) => {$(
        impl From<$id> for Subject {
            fn from(id: $id) -> Self {
                Self::$subject(id.0)
            }
        }
    )*};
}

subjects! {
    DeviceId Device,
    TerminalId Terminal,
    CableId Cable,
    CoreId Core,
}

/// A run of consecutive ids.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Run {
    /// The first.
    pub start: u32,
    /// The one after the last.
    pub end: u32,
}

impl Run {
    /// The numbers in it.
    pub fn iter(self) -> impl DoubleEndedIterator<Item = u32> + ExactSizeIterator + Clone {
        self.start..self.end
    }

    /// How many.
    #[must_use]
    pub fn len(self) -> usize {
        (self.end - self.start) as usize
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.start == self.end
    }
}
