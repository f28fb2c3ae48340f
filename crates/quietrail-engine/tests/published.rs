//! Rectifier figures from outside: tables of closed forms, and what makers publish.

mod supplies;

mod published {
    mod engineering;
    mod grids;
    mod makers;
    mod readings;
    mod surge;
    mod table;
}
