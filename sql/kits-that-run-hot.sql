-- Which kits run hot? The warmest module of each drive, and how far modules rose above where they began.
select
  kit,
  count(distinct car) as cars,
  count(*) as drives,
  avg(hottest_c) as mean_hottest_c,
  max(hottest_c) as hottest_c,
  avg(rise_c) as mean_rise_c
from (
  select kit, car, drive, max(hottest_c) as hottest_c, max(rise_c) as rise_c
  from modules
  group by kit, car, drive
) as warmest
where hottest_c is not null
group by kit
order by mean_hottest_c desc
