//! Rectifier figures from outside: tables of closed forms, and what makers publish.

mod supplies;

mod published {
    mod grids;
    mod readings;
    mod table;
}
