//! Arguments, files, printing. The only module that reads or writes files, prints or exits.
