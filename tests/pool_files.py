"""A small pool as the texts of its files, for tests that change one thing in it."""

from django.apps import apps

FILES = {
    "cable_types.csv": "cable_type,db_per_m_400mhz,db_per_m_1000mhz\nthin,0.38,0.62\n",
    "mat_designs.csv": "design,width_m,folds_m,weight_kg\nfour,2.0,0.5 1.0 1.5,11.5\n",
    "positions.csv": "design,position,length_m,cable_type\nfour,1,0.6,thin\nfour,2,1.1,thin\n",
    "mats.csv": "mat,design,depot,owner,acquired_on\nM-1,four,Quay Street,pool,2024-01-05\nM-2,four,,,\n",
    "segments.csv": "segment,cable_type,length_m\nC-1,thin,0.6\nC-2,thin,1.1\nC-3,thin,0.6\n",
    "fittings.csv": (
        "segment,fitted_on,mat,position,fitted_basis,removed_on,removal_reason\n"
        "C-1,2024-02-01,M-1,1,known,,\n"
        "C-2,2024-02-01,M-1,2,about,2025-02-01,worn\n"
    ),
    "events.csv": (
        "event,name,starts_on,ends_on,place,weather\n"
        "E-1,Hill run,2025-05-03,2025-05-04,Fen,dry\n"
        "E-2,Bank run,2025-05-04,2025-05-04,Mill,rain\n"
        "E-3,Gravel ride,2028-05-03,2028-05-04,,\n"
    ),
    "usage.csv": (
        "event,mat,state,counts_for,basis,hours_out,fold_cycles\nE-1,M-1,went,1,counted,5.5,2\nE-3,M-1,planned,,,,\n"
    ),
    "instruments.csv": "instrument,standard_uncertainty_db\nbridge 1,0.1\n",
    "measurements.csv": (
        "segment,measured_on,repeat,loss_db,frequency_mhz,temperature_c,instrument,note\n"
        "C-1,2025-06-01,1,0.71,900,19.5,bridge 1,a note\n"
        "C-2,2025-01-02,1,no signal,,,,\n"
    ),
    "faults.csv": (
        "mat,reported_on,fault,position,place,what,ended_on,end_reason\nM-1,2025-05-05,1,1,connector,seen,,\n"
    ),
    "notes.csv": (
        "note,on,about,code,text,by,done_on\n"
        "N-00001,2025-05-06,mat,M-1,drops on the left side,ida,\n"
        "N-00002,2025-05-07,segment,C-1,nut is tight,,2025-06-01\n"
        "N-00003,2025-05-07,event,E-1,gate by the river,tam,\n"
    ),
    "policy.csv": "setting,value,design,depot\nevent_limit,120,,\nevent_limit,100,four,\nhas_bench,0,,Upper Mill\n",
}

# What a pool may hold beside that: serials that the app gave, cables that are gone, how they were put in, faults of no
# one cable.
FULL = {
    "cable_types": (
        "cable_type,db_per_m_400mhz,db_per_m_1000mhz,connector_feed,connector_element,withdrawn_on,withdrawal_reason\n"
        "thin,0.38,0.62,'-plug,socket 4,,\nold,0.4,0.66,,,2025-06-30,no longer made\n"
    ),
    "mat_designs": (
        "design,width_m,folds_m,weight_kg,steps,withdrawn_on,withdrawal_reason\n"
        'four,2.0,0.5 1.0 1.5,11.5,"Open the flap, then wait\n\'-turn it over",,\n'
        "three,,,,,2024-05-06,\n"
    ),
    # M-2 went to two on one day, which the file says of one of them alone
    "usage": (
        "event,mat,state,counts_for,basis,hours_out,fold_cycles,shares_a_day\n"
        "E-1,M-1,went,1,counted,5.5,2,no\nE-1,M-2,went,1,counted,,,no\nE-2,M-2,went,1,counted,,,yes\n"
        "E-3,M-1,planned,1,counted,,,no\n"
    ),
    # named by nothing else; with two addresses; of a mat, and given up
    "depots": (
        "depot,mail,withdrawn_on,withdrawal_reason\n"
        "Hangar 2,,,\n"
        'Upper Mill,"mill@example.org, tam@example.org",,\n'
        "Quay Street,quay@example.org,2026-03-02,'=flooded\n"
    ),
    "segments": (
        "segment,cable_type,length_m,lot,length_basis,serial_basis,withdrawn_on,withdrawal_reason\n"
        "C-1,thin,0.6,L 7,known,own,,\n"
        'C-2,thin,1.1,,estimated,own,2025-02-01,"crushed, =flat"\n'
        "C-3,thin,0.6,,known,own,,\n"
        "C-00004,thin,1.1,,known,given,,\n"
        "C-00005,thin,0.6,,known,given,2026-03-02,\n"
    ),
    "fittings": (
        "segment,fitted_on,mat,position,fitted_basis,removed_on,removal_reason,torque_nm,end_test,remark\n"
        "C-1,2024-02-01,M-1,1,known,,,,,\n"
        "C-2,2024-02-01,M-1,2,about,2025-02-01,worn,,,\n"
        "C-00004,2025-02-01,M-1,2,known,,,0.56,read,'-2 turns; clamp 3 is new\n"
        "C-00005,2025-03-01,M-2,1,not later than,2026-03-02,not read any more,1.0,not read,\n"
    ),
    # of the set alone, for every length of a type, and of one length nothing but what the supplier calls it
    "prices": (
        "cable_type,length_m,design,price,lead_time_days,supplier_number\n"
        ",,four,99.00,21,'-four\nthin,,,,14,\nthin,0.6,,12.50,,A 0.6\nthin,1.1,,,,A 1.1\n"
    ),
    "faults": (
        "mat,reported_on,fault,position,place,what,ended_on,end_reason\n"
        'M-1,2025-05-05,1,1,connector,seen,2025-05-07,"looked at, nothing found"\n'
        "M-1,2025-05-05,2,,one of the cables,crackles,,\n"
        "M-2,2025-05-05,1,,wet,,2025-05-06,dried\n"
        "M-2,2026-03-01,1,1,cable,,2026-03-02,change\n"
    ),
    # weeks of a series, one of them moved by itself
    "series": (
        "series,name,starts_on,until,every_weeks,length_days\n"
        "S-2025-01,'=Evening run,2025-06-04,2025-07-02,2,1\nS-2025-02,Evening run,2025-06-05,2025-06-05,1,2\n"
    ),
    "events": (
        "event,name,starts_on,ends_on,place,weather,series,changed_alone\n"
        "E-1,Hill run,2025-05-03,2025-05-04,Fen,dry,,no\n"
        "E-2,Bank run,2025-05-04,2025-05-04,Mill,rain,,no\n"
        "E-3,Gravel ride,2028-05-03,2028-05-04,,,,no\n"
        "E-4,'=Evening run,2025-06-04,2025-06-04,Fen,,S-2025-01,no\n"
        "E-5,'=Evening run,2025-06-19,2025-06-19,Mill,rain,S-2025-01,yes\n"
        "E-6,Evening run,2025-06-05,2025-06-06,Fen,,S-2025-02,no\n"
    ),
    # cables without a serial that came, went to another depot and were thrown away; one with a serial that is there,
    # and one that was fitted
    "stock": (
        "entry,day,depot,cable_type,length_m,change,segment,lot,reason,work_order,note\n"
        "1,2025-01-20,Quay Street,thin,0.6,20,,L 7,received,,'=delivery 4\n"
        "2,2025-02-01,Quay Street,thin,0.6,-3,,L 7,moved,,\n"
        "3,2025-02-01,Upper Mill,thin,0.6,3,,L 7,moved,,\n"
        "4,2024-02-01,,thin,0.6,1,C-1,L 7,received,,\n"
        "5,2024-02-01,,thin,0.6,-1,C-1,L 7,fitted,W-2024-001,\n"
        "7,2025-02-02,,thin,0.6,1,C-3,,counted,,found behind the bench\n"
        '8,2025-02-03,Quay Street,thin,0.6,-2,,L 7,scrapped,,"crushed, by a van"\n'
    ),
    # renewed once; not agreed yet, and gone; a bench day that was looked at, and one of no instrument not to be trusted
    "reference_pieces": (
        "piece,agreed_on,agreed_loss_db,uncertainty_db,depot,basis,withdrawn_on,withdrawal_reason\n"
        "Q-ref,2025-01-01,1.42,0.02,Quay Street,certificate 12,,\n"
        "Q-ref,2026-01-01,1.45,0.01,Quay Street,'=mean of ten,,\n"
        "A-3dB,2026-01-01,,,,,2026-08-01,lost\n"
    ),
    "reference_readings": (
        "piece,measured_on,repeat,loss_db,instrument\n"
        "Q-ref,2025-06-01,1,1.9,bridge 1\nQ-ref,2025-06-01,2,1.8,bridge 1\nQ-ref,2026-06-01,1,1.46,\n"
    ),
    "bench_days": (
        "measured_on,instrument,looked_on,found,not_trusted_reason,not_trusted_on\n"
        "2025-06-01,bridge 1,2025-06-02,loose adapter,,\n2026-06-01,,,,lead crushed,2026-06-03\n"
    ),
    # withdrawn; signed off, one line done and one left; renewed twice; done without a cable in its place; begun and
    # given to somebody for a day; out of date
    "work_orders": (
        "work_order,mat,raised_on,position,segment,done_on,new_segment,left_reason,by,open,given_to,planned_on,"
        "signed_on,signed_by,renewed_as,withdrawn_on,withdrawal_reason\n"
        "W-2024-001,M-1,2024-03-01,1,C-1,,,,,no,,,,,,2024-03-02,raised twice\n"
        "W-2025-001,M-1,2025-01-20,1,C-1,,,\"'=looks new, reads 0.7 dB\",tam,no,,,2025-02-02,'@tam,,,\n"
        "W-2025-001,M-1,2025-01-20,2,C-2,2025-02-01,C-00004,,tam,no,,,2025-02-02,'@tam,,,\n"
        "W-2025-002,M-2,2025-04-01,1,C-00005,,,,,no,,,,,W-2025-003,,\n"
        "W-2025-003,M-2,2025-06-01,1,C-00005,,,,,no,,,,,W-2026-001,,\n"
        "W-2026-001,M-2,2026-03-01,1,C-00005,2026-03-02,,,,no,wren,2026-03-02,,,,,\n"
        "W-2026-002,M-1,2026-09-20,1,C-1,,,too late in the day,ida,no,ida,2026-10-04,,,,,\n"
        "W-2026-002,M-1,2026-09-20,2,C-00004,,,,,yes,ida,2026-10-04,,,,,\n"
        "W-2026-003,M-1,2026-06-20,1,C-1,,,,,yes,,,,,,,\n"
    ),
}


def pool_files(**changes):
    """{file: bytes}; `mats="…"` puts other text or bytes into mats.csv, `mats=None` leaves the file out."""
    texts = FILES | {f"{name}.csv": content for name, content in changes.items()}
    return {
        name: content.encode() if isinstance(content, str) else content
        for name, content in texts.items()
        if content is not None
    }


def write_folder(folder, contents):
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    return folder


def row_counts():
    """Rows in every table of ours, trails included."""
    models = [model for app in ("fleet", "inspections") for model in apps.get_app_config(app).get_models()]
    return {model.__name__: model.objects.count() for model in models if model._meta.managed}
