//! Webhooks: a farm's news as signed CloudEvents, to a receiver that verifies and parses them with independent libraries.

mod delivering;
mod enduring;
mod guarded;
pub mod receiver;
mod sharing;
mod telling;
pub mod yard;

on_both! { webhooks:
    delivering {
        a_message_arrives_signed_and_whole,
        what_fails_is_tried_again_later_each_time_then_given_up_and_replayed,
        a_receiver_that_asks_for_time_gets_it,
        both_secrets_sign_while_one_follows_the_other,
        a_receiver_that_is_gone_is_left_alone_until_it_is_enabled,
    }
    enduring {
        a_server_killed_between_two_attempts_goes_on_after_its_restart,
        a_server_that_is_told_to_stop_finishes_what_is_under_way,
    }
    telling { each_kind_of_news_is_told_when_it_happens, a_webhook_is_told_what_it_asked_for }
}
