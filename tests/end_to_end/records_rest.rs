//! Records over REST, from the real binary on both stores.

mod appending;
mod estimates;
mod isolation;
mod keys;
mod resources;
mod yard;

on_both! { records_rest:
    appending {
        an_event_is_corrected_and_retracted_and_all_is_kept,
        a_repeated_request_is_recorded_once,
        of_a_mixed_lot_nothing_is_kept_or_the_good_as_asked,
        the_callers_own_ids_make_an_append_repeatable,
    }
    estimates {
        a_stored_batch_is_estimated_like_its_history,
        the_tag_changes_exactly_when_something_it_is_made_of_does,
        what_cannot_be_estimated_says_why,
    }
    isolation {
        no_key_that_must_not_opens_anything_or_tells_what_is_there,
        another_farms_batch_cannot_be_merged_or_moved_into,
    }
    keys { the_first_key_closes_the_door, a_key_is_listed_without_its_text_and_revoked_for_good }
    resources {
        each_kind_is_created_read_changed_and_put_away,
        pages_of_each_kind_join_to_the_whole_list,
        a_batch_that_is_put_away_is_listed_only_where_asked_for,
    }
}
