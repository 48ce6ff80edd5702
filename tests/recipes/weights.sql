-- The newest weight of each animal, asked of an events file by duckdb: duckdb < weights.sql, beside events.jsonl.
-- Keep the highest revision of each weighing; what a person struck out does not count.
with weighing as (
  select data from read_json('events.jsonl', format = 'newline_delimited', columns = {type: 'varchar', data: 'json'})
  where type = 'neckyoke.weighing'
  qualify row_number() over (partition by data->>'weighing' order by (data->>'revision')::int desc) = 1
)
select data->'tag'->>'id' as tag, arg_max((data->'weight'->>'kg')::double, data->>'settled') as kg
from weighing
where data->'tag'->>'id' is not null and data->'weight'->>'grade' in ('good', 'fair')
  and not list_contains((data->'flags')::varchar[], 'voided')
group by tag order by tag;
