//! What growers' programs read without a key, by the programs themselves.

mod addresses;
mod calendar;
mod clients;
mod conditional;
mod forms;
mod heaps;
mod readers;
mod ready;
mod spreadsheet;

on_both! { feeds:
    addresses {
        an_address_opens_its_farm_until_it_is_revoked,
        a_token_that_is_unknown_or_revoked_opens_no_route_and_tells_nothing,
    }
}
