//! Terminal, cable and other tables as data.
