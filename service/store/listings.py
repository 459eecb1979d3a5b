"""The queries by which pictures and submissions are listed with all that is known of them; see `rows` for the way back.

A picture's newest annotation is the one with the highest id.
"""

from __future__ import annotations

from moondesk.service.store.letters import HELD_BY

_COLUMNS = f"""
    select s.*, s.id as s_id, p.id as p_id, p.position, p.given_name, p.size_bytes, p.sha256, p.media_type, p.refused,
           (select sha256 from pictures where id = p.version_of) as version_of,
           (select count(*) from pictures where version_of = p.id) as versions,
           (select json_group_array(json_array(words, who)) from (
                select v.words, case when v.other_id = p.id then t.sender_name end as who from versions v
                join pictures q on q.id = v.picture_id join submissions t on t.id = q.submission_id
                where (v.picture_id = p.id or v.other_id = p.id) and v.kind = 'ask' and v.decided is null order by v.id)) as asked,
           (select json_group_array(iif(v.picture_id = p.id, v.other_id, v.picture_id)) from versions v
            where (v.picture_id = p.id or v.other_id = p.id) and coalesce(v.decided, 'same') = 'same') as twins,
           a.status, a.sure, a.reason, a.taken_utc as a_taken_utc, a.time_source, a.clock_verdict, a.best_seen,
           a.derived_key, a.quality, a.camera, a.evening,
           (select json_group_array(json_array(field, value, words, source, letter_id, noted_utc,
                                               (select message_id from submissions where id = letter_id)))
            from (select * from suggestions where submission_id = s.id and decided <> 'wrong' order by id)) as suggestions,
           (select json_group_array(json_array(state, kind, evidence, message_id, noted_by, noted_utc, picture_id,
                                               guardian, minor))
            from (select * from consents where submission_id = s.id order by id)) as consents,
           {HELD_BY} as held_by,
           (select json_group_array(json_array(kind, json(what), who))
            from (select d.kind, d.what, d.who from pictures q join decisions d on d.picture_id = q.id
                  where q.submission_id = s.id and d.undone_utc is null and (d.picture_id = p.id or
                  d.kind in ('sender_name', 'credit_line', 'equipment', 'story')) order by d.id)) as decisions
"""
_NEWEST = "left join annotations a on a.id = (select max(id) from annotations where picture_id = p.id)"
#: Pictures; what follows narrows and orders.
PICTURES = f"{_COLUMNS} from pictures p join submissions s on s.id = p.submission_id {_NEWEST}"


def submissions_sql(where: str = "") -> str:
    """Submissions with what they hold, one row for each picture and one for a letter, which has none.

    where: of which ones, a condition on s.
    """
    return f"""
        select listed.*, e.number as edition_number, j.quarantined, l.kind as letter, l.read_utc as letter_read_utc,
               l.read_by as letter_read_by
        from ({_COLUMNS} from submissions s left join pictures p on p.submission_id = s.id {_NEWEST} {where}) as listed
        join editions e on e.id = listed.edition_id
        left join jobs j on j.picture_id = listed.p_id
        left join letters l on l.submission_id = listed.s_id
    """
