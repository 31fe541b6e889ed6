"""The only part of tidegate that changes the disk.

A newcomer reads the modules in the order a drop meets them:

    settings, outcome        the records the rest of tidegate hands in
    scan, grouping, settle   looking at the inbox; nothing is touched
    redrop, and what it asks: returned, delivered_names, in_hand, ticket_ids     which return a mended file completes
    redrop_story             what a drop that came back changed
    make_ticket, ticket, claim    files leave the inbox for the work folder      COMMIT 1
    give_back                the way back, without mixing two drops; claim_looks: what both look at
    archives, archive_members    a zip or tar.gz is unpacked for judging
    parts, identity, stage   what the judge said becomes proven folders beside their targets
    handing, publish         moved onto a free name, then the claim is let go     COMMIT 2
    aside_report             what lies beside a drop that nobody could judge
    hand_over                the straight list of the steps above
    recover                  what a crash left, as data, then mended
    left_claims              claims in a work folder that no gate serves any more
    ledger, retry, lock      for people; healing faults; one daemon a gate
    durable, faults, proof, one_line_each   the primitive disk steps everything above is made of
"""
